"""`manage.py remind`: e-mails each business's owner and office what is due. Run it once a day.

Each letter is in the language of who reads it; what the command says is English.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from logbook import mail
from logbook.accounts.models import Business, Membership
from logbook.accounts.rights import Actor, Role
from logbook.law.cautions import AUTHORITY_PREVAILS, NOT_LEGAL_ADVICE
from logbook.law.clocks import Standing
from logbook.law.coverage import lacking_of
from logbook.localization import locale
from logbook.records.reading import deadlines, duesheets
from logbook.records.reading.deadlines import Task

TOLD = (Role.OWNER, Role.OFFICE)
MAX_TASKS = 200
"""More lines than this nobody reads; the list says how many are left out."""


class Command(BaseCommand):
    help = (
        "E-mail each business's owner and office what is overdue and what is due; prints to the "
        "console unless EMAIL_URL says otherwise."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--dry-run", action="store_true", help="say what would be sent, to whom"
        )
        parser.add_argument("--business", type=int, help="the id of one business; default all")

    def handle(self, *args: Any, **options: Any) -> None:
        businesses = Business.objects.order_by("pk")
        if options["business"] is not None:
            businesses = businesses.filter(pk=options["business"])
            if not businesses:
                raise CommandError(f"There is no business {options['business']}.")
        now, sent = timezone.now(), 0
        for business in businesses:
            sent += self._remind(business, now, dry=options["dry_run"])
        verb = "would be sent" if options["dry_run"] else "sent"
        self.stdout.write(f"{sent} reminders {verb}, to {len(businesses)} businesses.")

    def _remind(self, business: Business, now: datetime, *, dry: bool) -> int:
        members = (
            Membership.objects.filter(
                business=business, role__in=[role.value for role in TOLD], user__is_active=True
            )
            .select_related("user")
            .order_by("user__email")
        )
        if not members:
            self.stdout.write(f"{business}: nobody to tell; it has no owner and no office.")
            return 0
        first = members[0]
        while duesheets.refresh_stale(business=business):
            continue
        actor = Actor(user=first.user, business=business, role=Role(first.role))
        tasks = open_tasks(actor=actor, now=now)
        if not tasks:
            self.stdout.write(f"{business}: nothing is due; nobody is told.")
            return 0
        to = ", ".join(member.user.email for member in members)
        self.stdout.write(f"{subject(business, tasks)}; to {to}")
        if not dry:
            for member in members:
                with translation.override(member.user.language or locale.PLAIN):
                    mail.send(
                        subject=subject(business, tasks),
                        letter=letter(business, tasks),
                        to=member.user.email,
                    )
        return len(members)


def open_tasks(*, actor: Actor, now: datetime) -> list[Task]:
    """Return what is open or overdue in the business, the first due first."""
    sheets = deadlines.open_sheets(actor=actor)
    tasks = [*deadlines.tasks_of(sheets, now=now), *deadlines.draft_tasks(actor=actor, now=now)]
    tasks += deadlines.period_tasks(actor=actor, now=now)
    return deadlines.by_due(task for task in tasks if task.item.open)


def subject(business: Business, tasks: list[Task]) -> str:
    """Return how much is overdue and how much is to come, in the active language."""
    overdue = sum(task.standing is Standing.OVERDUE for task in tasks)
    return _("%(business)s: %(overdue)d overdue, %(due)d due") % {
        "business": " ".join(str(business).split()),
        "overdue": overdue,
        "due": len(tasks) - overdue,
    }


def letter(business: Business, tasks: list[Task]) -> str:
    """Return the text of a reminder in the active language: overdue first, then what is to come."""
    lines = [
        _("Due for %(business)s, the strictest time of all duty sets.") % {"business": business},
        "",
    ]
    for standing in (Standing.OVERDUE, Standing.OPEN):
        found = [task for task in tasks[:MAX_TASKS] if task.standing is standing]
        if found:
            lines += [
                f"{locale.translate_word(standing.value).capitalize()}:",
                *map(_line, found),
                "",
            ]
    if len(tasks) > MAX_TASKS:
        lines += [
            _("And %(count)d more; see the page of the deadlines.")
            % {"count": len(tasks) - MAX_TASKS},
            "",
        ]
    if settings.SITE_ADDRESS:
        lines += [f"{settings.SITE_ADDRESS}/deadlines/", ""]
    lines += map(locale.localized, lacking_of(task.place for task in tasks[:MAX_TASKS]))
    lines += [locale.localized(NOT_LEGAL_ADVICE), locale.localized(AUTHORITY_PREVAILS)]
    return "\n".join(lines)


def _line(task: Task) -> str:
    number = _("no. %(number)d") % {"number": task.number} if task.number else _("draft")
    if task.numbers:
        number = task.of_what
    until = locale.instant(task.item.due, ZoneInfo(task.time_zone))
    return (
        f"- {until}: {locale.translate_word(task.item.kind)}, {task.field.name}, "
        f"{task.customer.name} ({number}); {task.item.title}, {task.item.citation}"
    )
