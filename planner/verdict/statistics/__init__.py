"""Bounds, tests and weights: statistics that know nothing of concrete."""
