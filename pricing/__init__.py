"""What a small metal piece really costs to make, and what to ask for it."""

__version__ = "0.1.0"
