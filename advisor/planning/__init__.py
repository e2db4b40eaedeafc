"""What to do: rules, verdicts, windows, and the reasons in sentences."""
