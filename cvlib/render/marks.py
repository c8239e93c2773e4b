"""Marks in running text that a page may draw instead."""

BOX = "[ ]"
"""A box to tick."""
BLANK = "____"
"""A line to write a value on."""
