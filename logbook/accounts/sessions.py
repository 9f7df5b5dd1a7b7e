"""Sessions in the database, as Django keeps them."""

from __future__ import annotations

from typing import Any

from django.contrib.sessions.backends import base, db

from logbook.errors.faults import fault_of


class SessionStore(db.SessionStore):
    """Lets a fault be a fault: Django takes every error while saving for a session logged out."""

    def save(self, must_create: bool = False) -> Any:
        """Save the session.

        Raises: UpdateError if it was logged out meanwhile, CreateError, and the database's errors.
        """
        try:
            return super().save(must_create)
        except base.UpdateError as taken_for:
            if taken_for.__context__ and fault_of(taken_for.__context__):
                raise taken_for.__context__ from None
            raise
