"""Curves of trial batches read on later pours of the same mix."""
