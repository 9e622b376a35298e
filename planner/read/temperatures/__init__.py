"""Tables of readings into curing records."""
