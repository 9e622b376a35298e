"""What the errors allow to be said: nested selection, ties, honest bounds, limit, reasons. Data, no words on a page."""
