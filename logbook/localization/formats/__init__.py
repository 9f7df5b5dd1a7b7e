"""Formats of Django, the same in every language: see `logbook.localization.locale`."""
