"""The command line; same calls as the window, no Qt."""
