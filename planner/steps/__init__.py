"""Steps of the corridor that need prices of the laboratory beside errors of the curve."""
