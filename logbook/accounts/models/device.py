"""Where somebody is logged in."""

from __future__ import annotations

import uuid

from django.contrib.sessions.models import Session
from django.db import models

from logbook.accounts.models.user import User


class Device(models.Model):
    """One login on one device: goes with its session, and the session goes with it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="devices")
    session = models.OneToOneField(Session, on_delete=models.CASCADE, related_name="device")
    agent = models.CharField("user agent", max_length=300, blank=True)
    address = models.GenericIPAddressField("network address", null=True, blank=True)
    since = models.DateTimeField()
    last_seen = models.DateTimeField()

    class Meta:
        ordering = ["-last_seen", "id"]

    def __str__(self) -> str:
        return f"{self.user}, since {self.since:%Y-%m-%d %H:%M}"
