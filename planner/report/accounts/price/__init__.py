"""The account of what knowing the strength costs, and its parts."""
