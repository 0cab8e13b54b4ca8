"""How metal and exchange rates moved."""
