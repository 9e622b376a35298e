"""Pictures of what happens after casting."""
