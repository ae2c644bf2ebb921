"""What rides teach of the next, and how well the reports did on them."""
