"""The words of the duty sets' closed lists, marked for translation; `said.told` tells one."""

from __future__ import annotations

from logbook.rules.said import marked

WORDS = (
    # HowRead
    marked("legal text"),
    marked("agency page"),
    marked("summary"),
    marked("from memory"),
    # Role
    marked("for hire"),
    marked("own land"),
    marked("employer"),
    # Obligation
    marked("required"),
    marked("advised"),
    marked("not settled"),
    # Kind
    marked("record"),
    marked("notice before"),
    marked("notice after"),
    marked("display"),
    marked("copy"),
    marked("report"),
    # Since and Count
    marked("same local day"),
    marked("hours"),
    marked("calendar days"),
    marked("working days"),
    marked("fixed date"),
    marked("without delay"),
    marked("no count stated"),
    marked("start"),
    marked("end"),
    marked("day of work"),
    marked("record date"),
    marked("before start"),
    marked("request or event"),
    # LocationFormat
    marked("legal description"),
    marked("address"),
    marked("coordinates"),
    marked("outline"),
    marked("parcel"),
    marked("map"),
    marked("description"),
    # Recipient
    marked("authority"),
    marked("customer"),
    marked("owner or occupier"),
    marked("worker or handler"),
    marked("representative named in writing"),
    marked("treating medical staff"),
    marked("own files"),
    marked("farm"),
    marked("workers on the farm"),
    # elements.State
    marked("given"),
    # apply.Outcome
    marked("stands in the record"),
    marked("not asked here"),
    # clocks.State
    marked("open"),
    marked("overdue"),
    marked("done in time"),
    marked("done late"),
    marked("no instant to count to"),
    # facts.RecordFacts.pattern
    marked("broadcast"),
    marked("banded"),
    marked("directed"),
    # calc.chooser.NozzleKind
    marked("flat fan"),
    marked("pre-orifice flat fan"),
    marked("air-induction flat fan"),
    marked("twin flat fan"),
    marked("air-induction twin flat fan"),
    marked("flooding fan"),
    marked("hollow cone"),
    marked("full cone"),
    marked("streamer"),
)
