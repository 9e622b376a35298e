"""One function for each question, as the commands ask it: read, compute, and an answer that shows and writes itself.

The commands of ``test-ages`` parse, call one of these and print. Heavy imports stay inside the functions, so that
``from planner import recommend`` costs next to nothing.
"""
