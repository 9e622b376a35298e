"""The least that has to be broken, and the clause that asks for it, as values."""
