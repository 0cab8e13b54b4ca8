"""How far metal may move until a price earns too little."""
