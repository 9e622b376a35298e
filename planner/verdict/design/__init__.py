"""Where specimens are placed: the least variance there is, how near a schedule comes, how far a break may slip."""
