"""As in English: what a page shows by locale goes through `localization/locale.py`."""

from logbook.localization.formats.en.formats import *  # noqa: F403
