"""The kernels: arrays in, arrays out; a fast one and a slow twin as its oracle."""
