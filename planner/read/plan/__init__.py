"""The plan file into settings."""
