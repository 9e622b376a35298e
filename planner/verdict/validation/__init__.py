"""Errors on batches that had no part in choosing: own batch, later pour, drawn batches, restricted schedules."""
