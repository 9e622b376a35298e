"""What in a plan may be meant but is more often a slip."""
