"""What a careful reader would ask about the breaks of a study: told, and refused where it cannot be meant."""
