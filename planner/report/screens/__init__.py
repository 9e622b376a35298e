"""Accounts on a terminal or as text to paste."""
