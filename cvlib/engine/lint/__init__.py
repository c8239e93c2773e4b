"""What a profile says that cannot be true, or counts for nothing; one file for each subject."""
