"""One rule for many mixes: the breaks that keep the target for all of them."""
