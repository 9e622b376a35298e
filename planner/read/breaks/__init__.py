"""Tables of breaks into break values."""
