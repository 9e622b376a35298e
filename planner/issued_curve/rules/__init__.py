"""The rules that a curve is accepted and kept by: tonight, lasting, acceptance, the chances of an alarm."""
