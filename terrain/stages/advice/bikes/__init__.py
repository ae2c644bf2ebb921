"""Which classes of the fleet fit the ride."""
