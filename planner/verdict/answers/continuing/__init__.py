"""After the first breaks: what remains is scored again, and what would be done is laid down before casting."""
