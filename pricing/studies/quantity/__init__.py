"""Runs and orders of every size."""
