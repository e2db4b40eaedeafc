"""Forecast sources: one module per source behind one interface."""
