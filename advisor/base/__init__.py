"""Errors, units, paths, settings and the store; knows no domain types."""
