"""A season of an invented business, entered through the services like any other."""

from logbook.records.demo.load import load_demo, logins

__all__ = ["load_demo", "logins"]
