"""What is written once and kept for good: one file an entry, numbered, chained by hashes; and how it is read again."""
