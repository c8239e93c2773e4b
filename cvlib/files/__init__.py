"""What is on disk: the only room that opens anything."""
