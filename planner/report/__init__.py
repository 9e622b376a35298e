"""Renderers of one frozen result. They choose words and layout; they decide nothing."""
