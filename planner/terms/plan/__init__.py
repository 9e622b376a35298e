"""The plan as values: targets, budget, programme, costs; every number in canonical units."""
