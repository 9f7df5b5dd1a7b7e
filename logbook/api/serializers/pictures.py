"""Pictures put to a record as evidence."""

from __future__ import annotations

import binascii
from base64 import b64decode
from typing import Any

from django.utils.translation import gettext as _
from rest_framework import serializers

from logbook.api.fields import OneOf, RowId
from logbook.api.serializers.base import Strict
from logbook.facts.choices import PICTURED


class Base64Field(serializers.CharField):
    """The bytes of a file as text: base64 (RFC 4648, section 4)."""

    def to_internal_value(self, data: Any) -> Any:
        text = super().to_internal_value(data)
        try:
            return b64decode(text, validate=True)
        except (binascii.Error, ValueError):
            raise serializers.ValidationError(_("This is not base64.")) from None


class PictureSerializer(Strict):
    """A picture: what it shows, and the digest of what is stored of it."""

    id = RowId(help_text="Chosen by the client; asking twice makes one picture.")
    shows = OneOf([(word, word) for word in PICTURED])
    caption = serializers.CharField(max_length=200, allow_blank=True, default="")
    file = Base64Field(
        write_only=True, help_text="JPEG, PNG or WebP in base64, at most 15,000,000 bytes of it."
    )
    keep_time_and_place = serializers.BooleanField(
        write_only=True,
        default=False,
        help_text="Whether what the camera says of time and place is kept in the record.",
    )
    sha256 = serializers.CharField(read_only=True, help_text="Of the stored JPEG, hex.")
    taken = serializers.CharField(read_only=True, help_text="By the camera's clock; or blank.")
    place = serializers.CharField(
        read_only=True, help_text="Latitude, longitude (WGS 84), as the camera says; or blank."
    )


class PicturesSerializer(Strict):
    """The pictures of a record, in the order in which they were put there."""

    pictures = PictureSerializer(many=True)
