"""Breaks on the clock: opening hours, permitted windows, attendances of one casting."""
