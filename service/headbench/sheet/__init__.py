"""An answer as a person reads it; a function of the answer alone."""
