"""How files appear and are kept: opened, published whole, named, cached."""
