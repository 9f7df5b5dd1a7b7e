"""The serializer all others stand on: a name it does not know is refused, never dropped."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _
from rest_framework import serializers


class Strict(serializers.Serializer[Any]):
    """Refuses unknown names and names that the service sets itself: a typo loses no value.

    Args: given_only: whether a name that is not given keeps what stands (PATCH), instead of being
    emptied. Rows of a list are always read whole. With the context `served` it reads what it has
    served, names that the service sets included.
    """

    def __init__(self, *args: Any, given_only: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.given_only = given_only
        if given_only:
            for field in self.fields.values():
                field.required = False

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        refused: dict[str, list[str]] = {}
        if isinstance(data, Mapping):
            writable = [name for name, field in self.fields.items() if not field.read_only]
            for name in data:
                if name not in self.fields:
                    allowed = ", ".join(writable) or _("none")
                    refused[str(name)[:60]] = [
                        _("There is no such field; allowed: %(allowed)s.") % {"allowed": allowed}
                    ]
                elif name not in writable and not self.context.get("served"):
                    refused[name] = [_("The service sets this; leave it out.")]
        try:
            values: dict[str, Any] = super().to_internal_value(data)
        except serializers.ValidationError as bad:
            # The detail of a serializer is an object: field by field.
            detail: Any = bad.detail
            raise serializers.ValidationError({**detail, **refused}) from None
        if refused:
            raise serializers.ValidationError(refused)
        if self.given_only:
            return {name: value for name, value in values.items() if name in data}
        return values


def stands(serializer: Strict, row: Any, *, time_zone: str = "") -> bool:
    """Return whether all that `serializer` was given is what `row` says already.

    It is how asking twice is told from asking for something else under the same id.

    Args: time_zone of an instant without offset, where the row has none of its own.
    """
    kind = type(serializer)
    again = kind(data=kind(row).data, context={"served": True})
    again.is_valid(raise_exception=True)
    zone = ZoneInfo(time_zone or getattr(row, "time_zone", "UTC"))
    return _holds(again.validated_data, serializer.validated_data, zone)


def _holds(standing: Any, given: Any, zone: ZoneInfo) -> bool:
    if isinstance(given, Mapping):
        return isinstance(standing, Mapping) and all(
            name in standing and _holds(standing[name], value, zone)
            for name, value in given.items()
        )
    if isinstance(given, list):
        return (
            isinstance(standing, list)
            and len(standing) == len(given)
            and all(_holds(old, new, zone) for old, new in zip(standing, given, strict=True))
        )
    if isinstance(given, datetime) and given.tzinfo is None and isinstance(standing, datetime):
        return standing.astimezone(zone).replace(tzinfo=None) == given
    return bool(standing == given)
