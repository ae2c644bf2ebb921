"""How fast a ride goes, and how fast each edge of a region is."""
