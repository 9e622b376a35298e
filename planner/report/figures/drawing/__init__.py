"""A plain `Plot` and the two files that turn it into SVG or PNG."""
