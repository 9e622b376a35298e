"""Cautions: when each is due, and in which order they stand."""
