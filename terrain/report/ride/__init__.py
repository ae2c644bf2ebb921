"""A recorded ride told: on a terminal, as a drawing, as a page; and how well reports did."""
