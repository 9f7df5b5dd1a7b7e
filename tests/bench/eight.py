"""A draft with eight products in a database of its own, and the session of its writer.

    DATABASE_URL=… DEBUG=1 python -m tests.bench.eight

Prints the id of the draft and the key of the session.
"""

from __future__ import annotations

import os
import uuid

PRODUCTS = 8


def begin() -> tuple[str, str]:
    """Return the id of the draft and the key of the session."""
    from django.test import Client

    from logbook.records.writing.draft import begin_draft, save_draft
    from tests import factories as make
    from tests.conftest import actor_of, clean_data, yard_of

    owner = actor_of(make.BusinessFactory(), "owner")
    yard = yard_of(owner.business)
    entry = clean_data(yard)
    (line,) = entry["products"]
    for _ in range(PRODUCTS - 1):
        product = make.ProductFactory(business=owner.business)
        make.IngredientFactory(edition=make.LabelEditionFactory(product=product))
        entry["products"].append({**line, "product": product.pk})
    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    save_draft(actor=owner, record_id=draft.pk, revision=draft.revision, data=entry)
    browser = Client()
    browser.force_login(owner.user, backend="django.contrib.auth.backends.ModelBackend")
    return str(draft.pk), browser.cookies["sessionid"].value


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "logbook.config.settings")
    import django
    from django.core.management import call_command

    django.setup()
    call_command("migrate", verbosity=0)
    print(*begin())
