"""Every address × every role × the other tenant, against one table: who is let in, and who is not.

The table below says it in the words of the product; the resolver says which addresses there are. An
address without a row here fails the test, so nobody opens a door without saying for whom.
"""

from __future__ import annotations

import logging
import uuid
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.db import transaction
from django.template.backends.django import Template
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from logbook.accounts.devices import devices
from logbook.accounts.grants import give_grant, withdraw_grant
from logbook.accounts.invitations import invite
from logbook.accounts.models import Passkey
from logbook.accounts.rights import INSIDE, OUTSIDE, TABLE, Actor, Right, Role
from logbook.accounts.services import actor_for
from logbook.accounts.tokens import make_token
from logbook.catalog.sheets.jobs import keep_file
from logbook.records.writing.pictures import add_picture
from tests import factories as make
from tests.authenticator import Authenticator
from tests.conftest import NOW, sealed_by
from tests.pictures import picture

ANYBODY = "anybody"
LOGIN = "any login"
NOBODY = "nobody: there is nothing"

MEMBERS = frozenset(INSIDE)
WRITERS = MEMBERS - {Role.HELPER}
SPRAYERS = frozenset({Role.OWNER, Role.APPLICATOR})
DESK = frozenset({Role.OWNER, Role.OFFICE})
OWNER = frozenset({Role.OWNER})
EVERYONE = MEMBERS | frozenset(OUTSIDE)
VERIFIERS = MEMBERS | {Role.INSPECTOR}

# Name of the address: who may GET it, who may change something by it (POST, PUT, PATCH). None: the
# address does not know that verb.
PAGES: dict[str, tuple[Any, Any]] = {
    "login": (ANYBODY, ANYBODY),
    "login-code": (ANYBODY, ANYBODY),
    "login-passkey": (None, NOBODY),  # open to who has just given the password
    "sign-up": (ANYBODY, ANYBODY),
    "reset": (ANYBODY, ANYBODY),
    "reset-sent": (ANYBODY, None),
    "reset-confirm": (ANYBODY, ANYBODY),  # what a wrong link says, it says to anybody
    "invitation": (NOBODY, NOBODY),  # open to whoever holds a secret; this one is none
    "language": (ANYBODY, ANYBODY),
    "you": (LOGIN, LOGIN),
    "you-password": (LOGIN, LOGIN),
    "second-factor": (LOGIN, LOGIN),
    "second-factor-set-up": (LOGIN, LOGIN),
    "passkey-add": (LOGIN, LOGIN),
    "passkey-ask": (None, LOGIN),
    "passkey": (LOGIN, LOGIN),
    "you-devices-out": (None, LOGIN),
    "you-tokens-out": (None, LOGIN),
    "you-device-out": (None, LOGIN),
    "tokens": (MEMBERS, MEMBERS),
    "token-revoke": (None, MEMBERS),
    "members": (DESK, DESK),
    "member": (DESK, DESK),
    "member-out": (None, DESK),
    "member-invitation-again": (None, DESK),
    "member-invitation-withdraw": (None, DESK),
    "logout": (None, LOGIN),
    "acting": (LOGIN, LOGIN),
    "today": (EVERYONE, None),
    "book": (MEMBERS, None),
    "book-narrow": (MEMBERS, None),
    "book-csv": (MEMBERS, None),
    "book-xlsx": (MEMBERS, None),
    "book-print": (EVERYONE, None),
    "book-print-pdf": (EVERYONE, None),
    "today-start": (None, MEMBERS),
    "today-fields": (MEMBERS, None),
    "today-jobs": (MEMBERS, None),
    "today-running": (MEMBERS, None),
    "today-stop": (None, MEMBERS),
    "record-new": (None, MEMBERS),
    "record-wind": (MEMBERS, MEMBERS),
    "record-pictures": (MEMBERS, MEMBERS),
    "record-picture": (EVERYONE, None),
    "record-picture-remove": (None, MEMBERS),
    "record-like": (None, MEMBERS),
    "record-aside": (MEMBERS, MEMBERS),
    "record-back": (None, MEMBERS),
    "record": (EVERYONE, None),
    "record-edit": (MEMBERS, MEMBERS),
    "record-check": (None, MEMBERS),
    "record-sign": (SPRAYERS, SPRAYERS),
    "record-sign-passkey": (None, SPRAYERS),
    "record-amend": (WRITERS, WRITERS),
    "record-pdf": (EVERYONE, None),
    "record-duties": (MEMBERS, WRITERS),
    "record-duty-strike": (None, WRITERS),
    "record-resume": (None, MEMBERS),
    "record-purge": (OWNER, OWNER),
    "record-notice-before": (EVERYONE, None),
    "record-posting": (EVERYONE, None),
    "record-copy": (EVERYONE, None),
    "record-notice-completed": (EVERYONE, None),
    "deadlines": (MEMBERS, None),
    "deadlines-feed": (MEMBERS, MEMBERS),
    "deadlines-ics": (NOBODY, None),  # open to whoever holds a secret; this one is none
    "keeping": (MEMBERS, None),
    "keeping-hold": (None, DESK),
    "keeping-lift": (None, OWNER),
    "plan": (MEMBERS, None),
    "season": (MEMBERS, None),
    "season-csv": (MEMBERS, None),
    "season-xlsx": (MEMBERS, None),
    "season-totals": (MEMBERS, None),
    "season-totals-pdf": (MEMBERS, None),
    "season-totals-csv": (MEMBERS, None),
    "season-totals-json": (MEMBERS, None),
    "shelf": (MEMBERS, None),
    "shelf-business": (OWNER, OWNER),
    "shelf-list": (MEMBERS, None),
    "shelf-csv": (MEMBERS, None),
    "shelf-xlsx": (MEMBERS, None),
    "shelf-new": (WRITERS, WRITERS),
    "shelf-item": (MEMBERS, None),
    "shelf-history": (MEMBERS, None),
    "shelf-item-history": (MEMBERS, None),
    "shelf-business-history": (MEMBERS, None),
    "shelf-edit": (WRITERS, WRITERS),
    "exchange": (MEMBERS, None),
    "exchange-json": (MEMBERS, None),
    "exchange-csv": (MEMBERS, None),
    "exchange-schema": (ANYBODY, None),
    "exchange-look": (None, WRITERS),
    "exchange-import": (None, WRITERS),
    "sheets": (WRITERS, None),
    "sheets-template": (MEMBERS, None),
    "sheets-look": (None, WRITERS),
    "sheets-file": (WRITERS, None),
    "sheets-look-again": (None, WRITERS),
    "sheets-write": (None, WRITERS),
    "boundaries": (MEMBERS, None),
    "audit": (EVERYONE, None),
    "audit-log": (VERIFIERS, None),
    "access": (DESK, None),
    "access-give": (DESK, DESK),
    "access-withdraw": (None, DESK),
    "access-visits": (DESK, None),
}
API: dict[str, tuple[Any, Any]] = {
    "api": (ANYBODY, None),
    "api-schema": (ANYBODY, None),
    "api-rate-check": (None, ANYBODY),
    "api-nozzle-choice": (None, MEMBERS),
    "api-records": (EVERYONE, MEMBERS),
    "api-record": (MEMBERS, MEMBERS),
    "api-record-check": (MEMBERS, None),
    "api-record-sign": (None, SPRAYERS),
    "api-record-amend": (None, WRITERS),
    "api-record-seal": (EVERYONE, None),
    "api-record-pictures": (EVERYONE, MEMBERS),
    "api-record-picture": (EVERYONE, None),
    "api-record-pdf": (EVERYONE, None),
    "api-seals": (EVERYONE, None),
    "api-log-verify": (VERIFIERS, None),
    "api-season": (EVERYONE, None),
    "api-shelf-history": (MEMBERS, None),
    "api-record-duties": (MEMBERS, None),
    "api-duty-entries": (None, WRITERS),
    "api-duty-entry-strike": (None, WRITERS),
    "api-paper-notice-before": (MEMBERS, None),
    "api-paper-posting": (MEMBERS, None),
    "api-paper-notice-completed": (MEMBERS, None),
    "api-paper-copy": (MEMBERS, None),
    "api-deadlines": (MEMBERS, None),
    "api-period-reports": (MEMBERS, None),
    "api-totals": (MEMBERS, None),
    "api-export-json": (MEMBERS, None),
    "api-export-csv": (MEMBERS, None),
}
OWNERS_OWN = {
    *("token-revoke", "you-device-out", "passkey"),
    *("sheets-file", "sheets-look-again", "sheets-write"),
}
"""Addresses of a row that is one person's, here the owner's: whoever else may use the address
finds nothing there.
"""
SHELVES = (
    *("customers", "fields", "products", "labels", "nozzles", "rigs", "nozzle-sets"),
    "catch-tests",
)
for shelf in SHELVES:
    API[f"api-{shelf}"] = API[f"api-{shelf}-item"] = (MEMBERS, WRITERS)
API["api-people"] = API["api-people-item"] = (MEMBERS, DESK)

ADMIN_PAGES = {
    *("index", "login", "logout", "password_change", "password_change_done", "autocomplete"),
    *("jsi18n", "view_on_site", "app_list", "auth_user_password_change"),
    *("otp_totp_totpdevice_config", "otp_totp_totpdevice_qrcode"),
}
ADMIN_MODELS = {
    *("auth_group", "axes_accessattempt", "axes_accesslog", "axes_accessfailurelog"),
    *("accounts_user", "accounts_business", "accounts_membership", "accounts_person"),
    *("accounts_invitation", "accounts_device", "accounts_apitoken", "accounts_passkey"),
    *("accounts_grantedcustomer", "accounts_grantedfield"),
    *("accounts_journal", "accounts_journalentry"),
    *("otp_totp_totpdevice", "otp_static_staticdevice"),
    *("catalog_sensitiveplace", "catalog_importfile"),
    *("accounts_licence", "accounts_training", "accounts_grant", "accounts_visit"),
    *("catalog_customer", "catalog_field", "catalog_product", "catalog_labeledition"),
    *("catalog_nozzlemodel", "catalog_rig", "catalog_nozzleset", "catalog_catchtest"),
    *("catalog_fieldlocation", "catalog_planting", "catalog_ingredient", "catalog_labelask"),
    *("catalog_nozzleclassrow", "catalog_labeldeadline"),
    *("records_applicationrecord", "records_load", "records_seal", "records_chain"),
    *("records_productline", "records_loadpart", "records_loaduse", "records_weatherreading"),
    *("records_explanation", "records_crewmember", "records_dutyentry", "records_duesheet"),
    *("records_legalhold", "records_purge", "records_feedkey", "records_setaside"),
    *("records_lawtext", "records_sealedname", "accounts_shelfchange", "records_picture"),
}
ADMIN_DEEDS = ("changelist", "add", "history", "delete", "change")


def patterns(
    resolver: URLResolver | None = None, space: str = "", before: str = ""
) -> Iterator[tuple[str, URLPattern, str]]:
    """Yield every address of the service: its name with its space, its pattern, its whole text."""
    for one in (resolver or get_resolver()).url_patterns:
        if isinstance(one, URLResolver):
            inner = f"{space}{one.namespace}:" if one.namespace else space
            yield from patterns(one, inner, before + str(one.pattern))
        else:
            yield f"{space}{one.name or ''}", one, before + str(one.pattern)


def row_of(name: str) -> tuple[Any, Any] | None:
    """Return the table's row of an address; None where it has none."""
    return PAGES.get(name) or API.get(name)


def test_every_address_stands_in_the_table_and_no_other() -> None:
    known = {*PAGES, *API, *(f"admin:{page}" for page in ADMIN_PAGES)}
    known |= {f"admin:{model}_{deed}" for model in ADMIN_MODELS for deed in ADMIN_DEEDS}
    # Without a name: the API's and the admin's answer to what is not there, and the admin's old
    # addresses of a row, which lead to its page; the admin's login, which is that of the pages.
    nameless = {"", "admin:"}
    found = {name for name, _, _ in patterns()}
    assert found - known - nameless == set()
    assert known - found == set()
    odd = [text for name, _, text in patterns() if name == ""]
    assert odd == ["admin/login/", "api/v1/"]


def test_the_table_of_rights_says_who_may_what_by_role() -> None:
    """The pages above rest on it: from outside nothing but reading, printing and verifying."""
    assert TABLE[Role.FARM_MANAGER] == {Right.READ, Right.PRINT}
    assert TABLE[Role.INSPECTOR] == {Right.READ, Right.PRINT, Right.VERIFY}
    assert set(TABLE) == set(Role)
    assert TABLE[Role.OWNER] == set(Right)


@pytest.fixture(autouse=True)
def quiet() -> Iterator[None]:
    """Keep some thousand refusals out of the report."""
    logging.disable(logging.CRITICAL)
    yield
    logging.disable(logging.NOTSET)


@pytest.fixture
def signed(owner: Any, clean_draft: Any) -> Any:
    """A sealed record with a picture."""
    add_picture(
        actor=owner,
        record_id=clean_draft.pk,
        picture_id=uuid.uuid4(),
        shows="tank",
        caption="",
        raw=picture(),
        keep_time_and_place=False,
        now=NOW,
    )
    return sealed_by(owner, clean_draft)


@pytest.fixture
def rows(signed: Any, owner: Any, yard: Any, confirmed: Any) -> dict[str, Any]:
    """One row of ours for every kind of id that an address takes."""
    from logbook.records.writing.entries import add_duty_entry
    from logbook.records.writing.holds import set_hold

    entry = add_duty_entry(
        actor=owner,
        record_id=signed.pk,
        entry_id=uuid.uuid4(),
        data={"kind": "copy", "to_whom": "The farm", "how": "by hand", "given_at": NOW},
        now=NOW,
    )
    hold = set_hold(
        actor=owner,
        hold_id=uuid.uuid4(),
        record_id=signed.pk,
        reason="Asked for by the farm",
        now=NOW,
    )
    guest = make.UserFactory()
    spare = give_grant(
        actor=owner,
        email=guest.email,
        role=Role.FARM_MANAGER,
        customer_ids=[yard.customer.pk],
        now=timezone.now(),
    )
    helping = make.UserFactory(email="helping@example.test")
    member = make.MembershipFactory(user=helping, business=owner.business, role="helper")
    token, _ = make_token(
        actor=owner,
        name="Weather station",
        scopes=["read"],
        days=30,
        confirmation=confirmed(owner),
        now=timezone.now(),
    )
    file = keep_file(
        business=owner.business,
        user=owner.user,
        kind="customers",
        name="customers.csv",
        content=b"name\nFar Farm\n",
        options={},
        now=timezone.now(),
    )
    invited = invite(
        actor=owner,
        email="invited@example.test",
        role=Role.HELPER,
        link=lambda secret: secret,
        now=timezone.now() - timedelta(hours=1),
    )
    phone = Authenticator()
    passkey = Passkey.objects.create(
        user=owner.user, name="phone", credential_id="held", public_key=phone.held()
    )
    caller(owner.user).get(reverse("you"))
    item = {
        "customers": yard.customer,
        "fields": yard.field,
        "products": yard.product,
        "labels": yard.label,
        "nozzles": yard.nozzle,
        "rigs": yard.rig,
        "nozzle-sets": yard.nozzle_set,
        "catch-tests": yard.catch_test,
        "people": yard.person,
    }
    return {
        "record_id": signed.pk,
        "picture_id": signed.pictures.get().pk,
        "entry_id": entry.pk,
        "hold_id": hold.pk,
        "grant_id": spare.pk,
        "token": "nobody-made-this",
        "uidb64": "MQ",
        "ending": "csv",
        "member_id": member.pk,
        "token_id": token.pk,
        "file_id": file.pk,
        "invitation_id": invited.pk,
        "passkey_id": passkey.pk,
        "device_id": devices(user=owner.user, session_key=None, now=timezone.now())[0].id,
        "boundaries": "geojson",
        "kind": "customers",
        "row_id": yard.customer.pk,
        **{f"api-{kind}-item": row.pk for kind, row in item.items()},
    }


@pytest.fixture
def people(
    business: Any, other_business: Any, owner: Any, yard: Any, stranger: Any
) -> dict[str, Any]:
    """Who knocks: a user by the name of the role, None for a visitor."""
    found: dict[str, Any] = {"anonymous": None, "other owner": stranger.user, "owner": owner.user}
    for role in MEMBERS - {Role.OWNER}:
        user = make.UserFactory(email=f"{role.value}@example.test")
        make.MembershipFactory(user=user, business=business, role=role.value)
        found[role.value] = user
    now = timezone.now()
    for role in OUTSIDE:
        found[role.value] = guest(owner, role, yard, now).user
    grant = guest(owner, Role.INSPECTOR, yard, now)
    withdraw_grant(actor=owner, grant_id=grant.pk, now=now)
    found["ended grant"] = grant.user
    return found


def guest(owner: Actor, role: Role, yard: Any, now: Any) -> Any:
    user = make.UserFactory()
    inspecting = role is Role.INSPECTOR
    return give_grant(
        actor=owner,
        email=user.email,
        role=role,
        customer_ids=[yard.customer.pk],
        reason="A complaint about drift" if inspecting else "",
        ends_on=(now + timedelta(days=20)).date() if inspecting else None,
        now=now,
    )


def caller(user: Any) -> Client:
    """Return the browser of a user, logged in; of a visitor for None."""
    client = Client(raise_request_exception=False)
    if user is not None:
        client.force_login(user)
    return client


def wanted(who: Any, role: str, *, api: bool, ids: bool) -> set[str]:
    """Return what may come of knocking: in, unread, login, closed, gone, no verb."""
    if who is NOBODY:
        return {"gone"}
    if who is ANYBODY:
        return {"in", "unread"}
    if who is None:
        # Whether a visitor is told to log in first, or that there is no such verb, opens nothing.
        return {"no verb"} | ({"login"} if role == "anonymous" else set())
    if role == "anonymous":
        return {"login"}
    if who is LOGIN:
        return {"in"}
    if role == "ended grant":
        return {"closed"}
    if role == "other owner":
        # An entry that cannot be read is refused before anything is looked for; that tells nothing.
        return {"gone", "unread"} if ids and Role.OWNER in who else {"in", "unread"}
    return {"in", "unread"} if Role(role) in who else {"closed"}


def came(answer: Any) -> str:
    """Return what came of knocking, from the status alone."""
    if answer.status_code == 302 and answer["Location"].startswith(("/login/?", "/admin/login/?")):
        return "login"
    if answer.status_code >= 500:
        return f"broke ({answer.status_code})"
    words = {400: "unread", 422: "unread", 401: "login", 403: "closed", 404: "gone", 405: "no verb"}
    return words.get(answer.status_code, "in")


def knock(client: Client, verb: str, address: str, *, api: bool) -> Any:
    """Return the answer; whatever it changed is taken back."""
    with transaction.atomic():
        kind = "application/json" if api else None
        body: Any = {"data": b"{}"} if api and verb != "get" else {}
        answer = getattr(client, verb)(address, **body, **({"content_type": kind} if kind else {}))
        if answer.streaming:
            # Read to its end: closing it half read would close the test's own connection.
            answer.getvalue()
        transaction.set_rollback(True)
    return answer


def address_of(name: str, pattern: URLPattern, rows: dict[str, Any]) -> tuple[str, bool]:
    """Return an address with our ids in it, and whether there are any."""
    names = list(pattern.pattern.converters)
    kwargs = {
        one: rows.get(name, rows[one]) if one in ("row_id", "ending") else rows[one]
        for one in names
    }
    return reverse(name, kwargs=kwargs), any(one.endswith("_id") for one in names)


def verbs_of(name: str, pattern: URLPattern) -> list[tuple[str, int]]:
    """Return the verbs to try, each with its column of the table."""
    if name not in API:
        return [("get", 0), ("post", 1)]
    cls = getattr(pattern.callback, "cls", None)
    writes = [verb for verb in ("post", "put", "patch") if hasattr(cls, verb)]
    return [("get", 0), *((verb, 1) for verb in writes or ["post"])]


@pytest.fixture
def unwritten(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the texts of pages and papers unmade: who is let in is settled before them."""
    monkeypatch.setattr(Template, "render", lambda *_args, **_kwargs: "<!-- progress -->")


def test_every_address_lets_in_whom_the_table_names_and_nobody_else(
    rows: dict[str, Any], people: dict[str, Any], unwritten: None
) -> None:
    wrong = []
    for role, user in people.items():
        client = caller(user)
        for name, pattern, _ in patterns():
            row = row_of(name)
            if row is None:
                continue  # the admin, walked below; a missing row fails above
            address, ids = address_of(name, pattern, rows)
            for verb, column in verbs_of(name, pattern):
                # "acting" without a choice is let in and finds nothing; the test of it is its own.
                answer = knock(client, verb, address, api=name in API)
                if name == "logout":
                    client = caller(user)
                found = came(answer)
                right = wanted(row[column], role, api=name in API, ids=ids)
                if name in OWNERS_OWN and role != "owner" and right & {"in", "unread"}:
                    right = {"gone"}
                if name == "acting" and verb == "post" and user is not None:
                    right = {"gone"}
                if found not in right:
                    wrong.append(f"{role}: {verb} {name}: {answer.status_code}, not {right}")
    assert not wrong, "\n".join(wrong)


def test_nobody_but_the_superuser_enters_the_admin(
    rows: dict[str, Any], people: dict[str, Any]
) -> None:
    wrong = []
    inside = make.UserFactory(is_staff=True, is_superuser=True)
    addresses = []
    for name, pattern, text in patterns():
        if name.startswith("admin:") and name not in ("admin:login", "admin:logout"):
            known = {"content_type_id": "1", "object_id": "1", "id": "1", "pk": "1"}
            known["app_label"] = "records"
            if name == "admin:":
                addresses.append("/" + text.replace("<path:object_id>", "1").split("(?P")[0])
                continue
            named = list(pattern.pattern.converters) or list(pattern.pattern.regex.groupindex)
            addresses.append(reverse(name, kwargs={one: known[one] for one in named}))
    assert len(addresses) > 200
    for role, user in people.items():
        client = caller(user)
        # The admin asks its one question before it looks at the verb; the owner tries both.
        verbs = ("get", "post") if role == "owner" else ("get",)
        for address in addresses:
            for verb in verbs:
                found = came(getattr(client, verb)(address))
                if found != "login":
                    wrong.append(f"{role}: {verb} {address}: {found}")
    client = Client()
    client.force_login(inside)
    for model in ADMIN_MODELS:
        if came(client.get(reverse(f"admin:{model}_changelist"))) != "in":
            wrong.append(f"superuser: {model}")
    assert not wrong, "\n".join(wrong)


def test_a_guest_finds_neither_drafts_nor_what_is_out_of_scope_nor_another_tenant(
    rows: dict[str, Any],
    people: dict[str, Any],
    owner: Any,
    stranger: Any,
    yard: Any,
    entry: dict[str, Any],
    sealed_for_another: Any,
) -> None:
    from logbook.records.writing.draft import begin_draft, save_draft

    draft = begin_draft(actor=owner, record_id=uuid.uuid4())
    draft = save_draft(actor=owner, record_id=draft.pk, revision=draft.revision, data=entry)
    elsewhere = begin_draft(actor=stranger, record_id=uuid.uuid4())
    wrong = []
    for role in OUTSIDE:
        client = Client(raise_request_exception=False)
        client.force_login(people[role.value])
        for name, pattern, _ in patterns():
            row = row_of(name)
            if (
                row is None
                or row[0] is not EVERYONE
                or "record_id" not in pattern.pattern.converters
            ):
                continue
            ids = {one: rows[one] for one in pattern.pattern.converters}
            assert came(client.get(reverse(name, kwargs=ids))) == "in"
            for record in (draft, elsewhere, sealed_for_another):
                answer = client.get(reverse(name, kwargs=ids | {"record_id": record.pk}))
                if came(answer) != "gone":
                    wrong.append(f"{role}: {name}: {answer.status_code}")
    assert not wrong, "\n".join(wrong)


def test_the_one_who_holds_no_standing_grant_acts_as_nobody(people: dict[str, Any]) -> None:
    assert actor_for(people["ended grant"]) is None
