"""What the maker states, and what the engine sees: frozen models with every rule that one table can hold to."""
