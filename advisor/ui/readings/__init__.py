"""What the Readings pane is put together from."""
