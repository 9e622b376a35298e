"""The kernels: arrays in, arrays out; their slow twin, which checks them, stands in the tests."""
