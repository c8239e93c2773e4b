"""What a change of the definitions means: answers, findings and meanings of saved values."""
