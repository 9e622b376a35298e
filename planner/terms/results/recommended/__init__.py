"""The recommendation and its parts."""
