"""Sentences and cautions, each written once."""
