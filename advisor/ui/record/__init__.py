"""The record pane in parts: to read, to search, to add to, to hand over."""
