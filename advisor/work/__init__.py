"""The use cases that the window and the command line both call."""
