"""What the value of a key may be: how it is read, what is refused, and what an editor is told of it."""
