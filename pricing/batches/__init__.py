"""The batch log: what was poured, what came out of it and how long it took; kept for good, one file a batch."""
