"""Bytes, words and quantities as people write them, and where readers put what they find."""
