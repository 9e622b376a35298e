"""What is cast, broken and mixed, and the label of every specimen."""
