"""Clock times as people and loggers write them."""
