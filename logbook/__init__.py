"""The spray logbook: a Django service around the physics of `calc`."""

__version__ = "0.1.0"
