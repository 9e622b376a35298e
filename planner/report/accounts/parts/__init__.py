"""Sections that several accounts share."""
