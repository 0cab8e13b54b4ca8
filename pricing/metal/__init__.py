"""The price of metal as it moves: how far it went, and where the maker chose to have it pulled from."""
