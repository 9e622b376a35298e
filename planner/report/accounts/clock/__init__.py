"""Breaks on the clock: when they are due, how far they may slip, when strengths are to be expected."""
