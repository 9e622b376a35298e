"""What is said of an issued curve, of its trial batches, its pours and its site checks."""
