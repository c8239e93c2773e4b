"""What each result looks like: one module for each command, facts in, neutral blocks out."""
