"""Saved values held against what is known: who owns each bit, and what is wrong with it."""
