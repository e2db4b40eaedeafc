"""Log files of any make and language read into house units, with a report of every choice."""
