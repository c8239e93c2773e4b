"""What follows: pure functions from the model to answers and findings."""
