"""A seller's year replayed."""
