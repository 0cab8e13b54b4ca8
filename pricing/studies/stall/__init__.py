"""What is said at a stall."""
