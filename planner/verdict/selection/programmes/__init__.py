"""Which programme is taken: how many trial batches, with how many specimens, at which price."""
