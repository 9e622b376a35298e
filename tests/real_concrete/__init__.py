"""The advice held against concrete that nobody here invented; ``python -m tests.real_concrete`` prints it."""
