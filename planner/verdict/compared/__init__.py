"""Schedules and ages held against the recommended schedule."""
