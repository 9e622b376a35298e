"""Which specimen to cast, and how strengths of one geometry are told by another."""
