"""What a month has, and what one set takes of it."""
