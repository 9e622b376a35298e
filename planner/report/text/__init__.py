"""Parts of an account and words for figures, whatever they are then written on."""
