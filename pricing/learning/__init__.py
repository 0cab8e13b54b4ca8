"""What the batch log teaches: fractions good, losses, minutes and sprue ratios, with how sure they are."""
