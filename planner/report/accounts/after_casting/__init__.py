"""Accounts of what happens after casting: curve, pours, site checks, a begun trial batch."""
