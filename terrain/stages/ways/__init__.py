"""The ground of every way of a region, fitted to its tags at build: see `fit`."""
