"""What the errors allow to be said: nested selection, ties, honest bounds, the limit, reasons. Data, not words on a page."""
