"""What was done and how to prove it."""
