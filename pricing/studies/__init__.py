"""Questions put to a costed workshop: each a function from models and figures to a table."""
