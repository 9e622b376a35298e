"""Many plans, or one plan over many targets, into one table; a bad plan stops no other, finished rows are kept."""
