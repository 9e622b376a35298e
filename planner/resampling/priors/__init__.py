"""Curves that learn from the other batches: what they know without some units, and their fits to every set of ages."""
