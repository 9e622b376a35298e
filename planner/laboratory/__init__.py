"""What a schedule asks of the laboratory: clock times, attendances, casting hours, specimens and money."""
