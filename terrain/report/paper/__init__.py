"""The report on paper."""
