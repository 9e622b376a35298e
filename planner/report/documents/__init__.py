"""Files that people take away."""
