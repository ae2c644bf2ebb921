"""What all drawings share."""
