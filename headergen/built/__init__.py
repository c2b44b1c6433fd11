"""What is half built: where it is, how it is closed from there, and what finished headers say about the hand."""
