"""Values for another firmware or decoder: converted, put in order, and laid on a write sheet."""
