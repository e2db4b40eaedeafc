"""One pane per question."""
