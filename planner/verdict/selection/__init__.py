"""The choosing rule, repeated without each batch and in every resampled set of batches."""
