"""Elevation tiles: read, fetched, and stored with a region."""
