"""The ride drawn as lanes along its length."""
