"""The report as data files."""
