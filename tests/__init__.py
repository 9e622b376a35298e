"""Tests, one room of the program a folder; a package, so that no installed one of the same name comes first."""
