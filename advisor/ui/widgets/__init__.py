"""Parts the panes are made of."""
