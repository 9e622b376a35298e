"""The one recommendation: what it rests on, where it holds, and all that must be said of it."""
