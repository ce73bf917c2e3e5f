"""One module a region of the screens."""
