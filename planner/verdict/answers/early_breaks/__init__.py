"""What each later pour breaks before it is read."""
