"""What a forecast says along a ride."""
