"""What more or less of specimens, trial batches and early breaks is worth, in sentences."""
