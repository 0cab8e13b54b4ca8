"""The plan of a pour: what to make for what is wanted, how it fills flasks and kiln, and what to weigh."""
