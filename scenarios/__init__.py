"""Invented demo programmes and the seeded script that invents them. The planner never imports this."""
