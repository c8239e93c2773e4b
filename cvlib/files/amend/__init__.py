"""Corrections of a profile: each form of them, and how one is tried, shown and written."""
