"""Errors of choices in batches: fits, losses, levels, figures."""
