"""When to cast: attendances and prices of very many schedules over very many casting times."""
