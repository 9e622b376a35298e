"""What later pours and begun trial batches are answered with."""
