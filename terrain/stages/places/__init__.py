"""What lies along the ride."""
