"""What a change of cost or of an asked price comes of, in shares that add up."""
