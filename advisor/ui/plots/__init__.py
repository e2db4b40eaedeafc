"""Pictures along the time axis."""
