"""From the breaks of a trial batch to the curve that is issued."""
