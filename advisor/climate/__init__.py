"""What the air was, is and will be: readings, logs, weather files, series."""
