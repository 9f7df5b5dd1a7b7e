"""What is due, as a calendar that a phone subscribes to (RFC 5545), by the icalendar library."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event, vText

from logbook.law.coverage import lacking
from logbook.localization.invisible import made_visible
from logbook.localization.locale import plain_english
from logbook.records.reading.deadlines import Task
from logbook.web.duties.present import KINDS

PRODUCT = "-//spray-logbook//deadlines//EN"
UTC = ZoneInfo("UTC")


@plain_english()
def calendar_of(tasks: Iterable[Task], *, name: str, base: str, now: datetime) -> bytes:
    """Return the calendar of the tasks that have an instant: one event each, when it is due.

    The UID of an event stays the same as long as its record and kind do, so that a calendar moves
    the event instead of doubling it (RFC 5545, 3.8.4.7).

    Args: name of the calendar; base, the address of the site, for the links; now, the DTSTAMP.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    # The library knows no type of this property and would write ends of lines as they are.
    calendar.add("x-wr-calname", vText(made_visible(name)))
    for task in tasks:
        if task.item.due is not None:
            calendar.add_component(_event(task, task.item.due, base, now))
    content: bytes = calendar.to_ical()
    return content


def _event(task: Task, due: datetime, base: str, now: datetime) -> Event:
    event = Event()
    number = f"no. {task.number}" if task.number else "draft"
    if task.numbers:
        number = f"{len(task.numbers)} records"
    called = task.item.called_at
    which = task.item.kind.replace(" ", "-") + (f".{called:%Y%m%dT%H%M%S}" if called else "")
    event.add("uid", f"{task.record_id}.{which}@spray-logbook")
    event.add("dtstamp", now.astimezone(UTC).replace(microsecond=0))
    event.add("dtstart", due.astimezone(UTC))
    event.add("summary", made_visible(f"{KINDS[task.item.kind]}: {task.of_what}"))
    which = task.of_what if task.numbers else f"{task.customer.name}, {task.field.name}"
    told = (
        f"{which} ({number}). "
        f"Due {task.local_due}, {task.item.clock}. "
        f"{task.item.title}: {task.item.citation}. {task.standing.value.capitalize()}."
    )
    told = " ".join(filter(None, (told, lacking(task.place))))
    event.add("description", made_visible(told))
    event.add("url", f"{base}/book/{task.record_id}/duties/")
    event.add("transp", "TRANSPARENT")
    return event
