"""Results about the geometry of specimens: what each would cost, and how strengths are converted."""
