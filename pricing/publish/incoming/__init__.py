"""Workbooks that come back: what they would change in a workshop folder, and writing it with comments kept."""
