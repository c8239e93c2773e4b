"""Saved values in every form people keep them: one file a form, `interface` chooses."""
