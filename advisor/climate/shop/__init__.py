"""How a shop answers the weather outside: its model, its fit to the log, and its skill."""
