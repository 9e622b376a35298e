"""Programmes with their figures, and how many specimens are enough."""
