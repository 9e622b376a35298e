"""The fewest breaks that keep the target, and the clause that demands them."""
