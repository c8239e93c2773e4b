"""Runs measured at the layout: what they show, how surely, and how many it takes."""
