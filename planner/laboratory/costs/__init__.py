"""Money: every item of one calibration, added up."""
