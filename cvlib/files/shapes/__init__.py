"""What may be written in a file: strict shapes, each key with its hint."""
