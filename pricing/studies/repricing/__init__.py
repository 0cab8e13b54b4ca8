"""Whether prices in force are held or moved, where to, and why."""
