"""How sure figures are, and which are worth measuring."""
