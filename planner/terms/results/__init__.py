"""What comes out: the one result that every renderer reads, and the values it is made of."""
