"""A process of its own for the test of simultaneous signatures.

Called as `prepare COUNT`, which writes drafts and prints their ids, or as `sign ID …`, which signs
what it can and prints "sealed N" or "refused" for each.
"""

from __future__ import annotations

import os
import sys
import uuid
from datetime import UTC, datetime

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "logbook.config.settings")
django.setup()

from logbook.accounts.models import User  # noqa: E402
from logbook.accounts.services import Confirmation, actor_for  # noqa: E402
from logbook.errors.exceptions import Refused  # noqa: E402
from logbook.records.models import ApplicationRecord  # noqa: E402
from logbook.records.reading.examine import examine  # noqa: E402
from logbook.records.writing.draft import begin_draft, save_draft  # noqa: E402
from logbook.records.writing.sign import sign  # noqa: E402

NOW = datetime(2026, 6, 12, 20, tzinfo=UTC)


def prepare(count: int) -> None:
    from tests import factories as make

    business = make.BusinessFactory()
    user = make.UserFactory(email="signer@example.test")
    make.MembershipFactory(user=user, business=business, role="owner")
    field = make.FieldFactory(business=business)
    product = make.ProductFactory(business=business)
    actor = actor_for(user)
    for _ in range(count):
        draft = begin_draft(actor=actor, record_id=uuid.uuid4())
        data = {
            "field": field.pk,
            "started_at": datetime(2026, 6, 12, 9),  # noqa: DTZ001 - the clock at the field
            "products": [{"product": product.pk}],
        }
        save_draft(actor=actor, record_id=draft.pk, revision=1, data=data)
        print(draft.pk)


def sign_all(ids: list[str]) -> None:
    actor = actor_for(User.objects.get(email="signer@example.test"))
    for record_id in ids:
        found = examine(actor=actor, record_id=uuid.UUID(record_id)).report.findings
        try:
            seal = sign(
                actor=actor,
                record_id=uuid.UUID(record_id),
                revision=ApplicationRecord.objects.get(pk=record_id).revision,
                explanations={finding.key: "Two sign at once." for finding in found},
                confirmation=Confirmation(user=actor.user),
                now=NOW,
            )
        except Refused:
            print("refused")
        else:
            print("sealed", seal.number)


if __name__ == "__main__":
    if sys.argv[1] == "prepare":
        prepare(int(sys.argv[2]))
    else:
        sign_all(sys.argv[2:])
