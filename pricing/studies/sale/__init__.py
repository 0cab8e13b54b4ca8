"""What a sale leaves."""
