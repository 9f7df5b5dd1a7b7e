"""The stored bytes of the pictures of a record, by Django's storage of files (`STORAGES`).

A file stands under the business and the id of its picture, so that no two share one.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from typing import Any

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from logbook.facts.record import Snapshot


def digest_of(jpeg: bytes) -> str:
    """Return the SHA-256 of stored bytes, as a seal names it."""
    return hashlib.sha256(jpeg).hexdigest()


def keep(*, business_id: Any, picture_id: Any, jpeg: bytes) -> None:
    """Store the bytes of a picture whose row was just made.

    A file that stands there already is of a deed that was broken off: it has no row.
    """
    name = _name(business_id, picture_id)
    default_storage.delete(name)
    default_storage.save(name, ContentFile(jpeg))


def stored(*, business_id: Any, picture_id: Any) -> bytes | None:
    """Return the stored bytes of a picture, None if it has none."""
    try:
        with default_storage.open(_name(business_id, picture_id)) as file:
            return bytes(file.read())
    except FileNotFoundError:
        return None


def as_kept(*, business_id: Any, picture_id: Any, sha256: str) -> bytes | None:
    """Return the stored bytes if they are those of the digest, else None."""
    jpeg = stored(business_id=business_id, picture_id=picture_id)
    return jpeg if jpeg is not None and digest_of(jpeg) == sha256 else None


def of_sealed(facts: Snapshot) -> list[bytes | None]:
    """Return the bytes of each picture of a record, None where they are not what was sealed."""
    return [
        as_kept(business_id=facts.business.id, picture_id=one.id, sha256=one.sha256)
        for one in facts.pictures
    ]


def throw_away(*, business_id: Any, picture_ids: Iterable[Any]) -> None:
    """Delete the stored bytes of pictures; one that has none is passed over."""
    for picture_id in picture_ids:
        default_storage.delete(_name(business_id, picture_id))


def _name(business_id: Any, picture_id: Any) -> str:
    return f"{business_id}/{picture_id}.jpg"
