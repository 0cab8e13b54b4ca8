"""What to make this month."""
