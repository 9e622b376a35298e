"""How much the maturity constants matter, and what the chosen one may still over-read."""
