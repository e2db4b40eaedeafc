"""A painting-window advisor: may I mix, when can I coat, and what was it like."""

__version__ = "0.1.0"
