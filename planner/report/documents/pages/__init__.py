"""Pages to read in a browser or to print."""
