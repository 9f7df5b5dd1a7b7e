"""Checks of one application record: a frozen snapshot in, findings out. No Django, no ORM."""
