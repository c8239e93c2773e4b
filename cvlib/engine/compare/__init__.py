"""Locos side by side in engineering units, and values that bring them closer."""
