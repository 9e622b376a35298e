"""The trade's nouns as frozen values. Checked once when built, canonical units only: MPa, hours, degrees C."""
