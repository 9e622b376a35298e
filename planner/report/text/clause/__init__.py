"""The sentences of a clause, numbered, each with who shall do what and what follows where it is not done."""
