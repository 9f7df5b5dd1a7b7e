"""As in English: what a page shows by locale goes through `base/locale.py`."""

from logbook.localization.formats.en.formats import *  # noqa: F403
