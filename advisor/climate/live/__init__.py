"""Readings that come by themselves: watched files and MQTT sensors."""
