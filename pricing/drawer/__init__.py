"""The metal drawer: what lies in it by alloy and form, what was paid for it and what it is worth today."""
