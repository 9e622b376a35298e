"""Tables of cells from text and workbooks, with their headings and columns."""
