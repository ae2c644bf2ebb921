"""Drawings and words of a report for the desk's own pages."""
