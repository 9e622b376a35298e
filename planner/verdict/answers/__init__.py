"""The answers as frozen values: recommendation, price, least breaks, clause."""
