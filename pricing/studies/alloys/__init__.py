"""One design in every alloy, and alloys side by side."""
