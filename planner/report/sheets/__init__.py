"""The sheets of the workbook, one file a sheet."""
