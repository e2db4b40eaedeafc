"""Dialogs: set a job up, bring readings in."""
