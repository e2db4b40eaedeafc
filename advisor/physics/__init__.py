"""How moist air and surfaces behave; pure functions on arrays."""
