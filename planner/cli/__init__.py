"""The commands of ``test-ages``: parse, call, print, exit code. Heavy imports stay inside the functions."""
