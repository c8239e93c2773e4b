"""Who this decoder is, which read tells most, and what a test would show."""
