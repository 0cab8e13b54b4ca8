"""Published editions of the prices: kept for good, one file each, chained by their hashes."""
