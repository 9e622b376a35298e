"""Results as plain values for JSON."""
