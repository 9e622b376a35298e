"""What is said of drawn batches and of what they are drawn from."""
