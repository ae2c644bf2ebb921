"""The report as a page."""
