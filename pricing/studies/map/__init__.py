"""A price and a margin against any two figures."""
