"""The answers in sections of tables, facts and sentences."""
