"""Standard against actual: what batches really cost and earned."""
