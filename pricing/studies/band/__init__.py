"""Repricing bands tried on a history of metal prices."""
