"""How results look: results in, text out; nothing here prints or opens a file."""
