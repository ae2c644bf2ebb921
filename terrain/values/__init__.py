"""Frozen values that pass between the stages; a file per concept."""
