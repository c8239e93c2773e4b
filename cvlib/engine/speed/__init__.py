"""Locos that run alike by measurement: timings, fitted curves, and the values that match them."""
