"""The corridors after casting: curves issued, pours read with them, site checks."""
