"""What programmes cost and what the next specimen buys."""
