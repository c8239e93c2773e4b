"""One value, setting or code, in words."""
