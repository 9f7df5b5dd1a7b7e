"""The demo: entered through the services, the same every time, and each flag there for a reason."""

from __future__ import annotations

import io
import socket
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.test import TestCase, override_settings

from logbook.accounts.models import Business, User
from logbook.catalog.models import NozzleModel, Product, Rig
from logbook.checks.core import Severity
from logbook.facts.quantity import Quantity
from logbook.records.demo import load_demo, logins
from logbook.records.demo.entry import quantity
from logbook.records.demo.load import read_data, row_id
from logbook.records.management.commands import demo as command
from logbook.records.models import (
    ApplicationRecord,
    DueSheet,
    DutyEntry,
    LegalHold,
    LoadUse,
    Seal,
)
from logbook.records.reading import verification
from logbook.records.reading.accuracy import accuracy_of_rig
from logbook.records.sealing.sealed import read_seal

HASHER = ["django.contrib.auth.hashers.MD5PasswordHasher"]


class Stopped(Exception):
    """What ends a load halfway."""


def stop_after_april(line: str) -> None:
    if "April" in line:
        raise Stopped


@override_settings(PASSWORD_HASHERS=HASHER, AXES_ENABLED=False)
class TestLoadedDemo(TestCase):
    """The demo, whose load was interrupted and then finished; `TestSeason` loads it in one go."""

    @classmethod
    def setUpTestData(cls) -> None:
        with pytest.raises(Stopped):
            load_demo(say=stop_after_april)
        cls.before = ApplicationRecord.objects.count()
        cls.sealed_before = Seal.objects.count()
        cls.entered = load_demo(say=lambda line: None)
        cls.business = Business.objects.get()
        cls.season = read_data("season")
        cls.sealed = {seal.record_id: read_seal(seal) for seal in Seal.objects.order_by("number")}
        cls.made = [one for one in cls.season["application"] if not one.get("draft")]

    def sealed_as(self, key: str) -> Any:
        return self.sealed[row_id("records", key)]

    def test_every_record_is_entered_and_all_but_two_drafts_are_sealed(self) -> None:
        assert 0 < self.sealed_before < 65
        assert self.entered == 67 - self.before
        assert len(self.sealed) == 65
        drafts = ApplicationRecord.objects.filter(signed_at__isnull=True)
        assert drafts.count() == 2

    def test_loading_again_changes_nothing(self) -> None:
        before = list(Seal.objects.order_by("number").values_list("number", "link", "sealed_at"))
        revisions = dict(ApplicationRecord.objects.values_list("id", "revision"))
        said: list[str] = []
        assert load_demo(say=said.append) == 0
        assert said == ["The demo is loaded already; nothing was changed."]
        after = list(Seal.objects.order_by("number").values_list("number", "link", "sealed_at"))
        assert after == before
        assert dict(ApplicationRecord.objects.values_list("id", "revision")) == revisions
        assert Business.objects.count() == 1

    def test_notices_and_copies_are_written_down_one_late_some_open_one_held(self) -> None:
        sheets = DueSheet.objects.filter(record__business=self.business)
        late = sheets.get(late_count__gt=0)
        assert late.record_id == row_id("records", "north-l-0730")
        open_ = {sheet.record_id for sheet in sheets.filter(next_due_at__isnull=False)}
        assert open_ == {row_id("records", key) for key in ("the-point-1105", "creek-block-0818")}
        not_owed = DutyEntry.objects.get(how="not owed")
        assert not_owed.record_id == row_id("records", "hollow-2-1015")
        struck = DutyEntry.objects.get(strikes__isnull=False)
        assert "wrong farm" in struck.note
        assert LegalHold.objects.get().seal.record_id == row_id("records", "the-point-0727")

    def test_the_log_verifies(self) -> None:
        result = verification.verify(business=self.business)
        assert result.broken is None
        assert result.checked == 65

    def test_each_record_has_the_findings_it_was_made_for_and_no_others(self) -> None:
        wanted = {one["key"]: sorted(one.get("flags", [])) for one in self.made}
        wanted |= {one["key"]: [] for one in self.season["amendment"]}
        found = {
            key: sorted(
                {
                    finding.code
                    for finding in self.sealed_as(key).findings
                    if finding.severity is not Severity.CAUTION
                }
            )
            for key in wanted
        }
        assert found == wanted
        assert len(found) == 65

    def test_a_dozen_marks_stand_on_eleven_records(self) -> None:
        marked = [
            number
            for number, sealed in enumerate(self.sealed.values(), start=1)
            for finding in sealed.findings
            if finding.severity is not Severity.CAUTION
        ]
        assert len(marked) == 12
        assert len(set(marked)) == 11

    def test_the_mistyped_speed_is_named_and_amended(self) -> None:
        # 26 and 62: two digits changed places; the tank says 15 gal/ac.
        (cause,) = self.sealed_as("home-quarter-0428").findings
        assert (cause.code, cause.about) == ("likely-cause", "speed")
        assert "entered 2.6 mph, likely 6.2 mph: two digits changed places" in cause.sentence
        assert {one.code for one in cause.leads} == {"mix-used", "time-taken"}
        second = self.sealed_as("home-quarter-0428-amended").snapshot
        assert second.amends.changes == ("Ground speed: 2.6 mph, now 6.2 mph",)

    def test_the_psi_written_for_bar_is_named_and_amended(self) -> None:
        findings = {one.code: one for one in self.sealed_as("hollow-2-0625").findings}
        cause = findings["likely-cause"]
        assert cause.about == "pressure"
        assert "entered 4.0 psi, likely 4.0 bar: the same figures in bar" in cause.sentence
        assert {one.code for one in cause.leads} == {"mix-used", "nozzle-pressure", "droplet-class"}
        second = self.sealed_as("hollow-2-0625-amended").snapshot
        assert second.amends.changes == ("Pressure at the gauge: 4.0 psi, now 4.0 bar",)

    def test_the_tank_that_contradicts_is_named(self) -> None:
        (cause,) = self.sealed_as("the-point-0727").findings
        assert (cause.code, cause.about) == ("likely-cause", "mix_used")
        assert "entered 1500 gal, likely 1935 gal: what the loads come to" in cause.sentence

    def test_a_plan_at_the_limit_of_a_label_is_said_quietly(self) -> None:
        at_limit = {
            key: line
            for key in (one["key"] for one in self.made)
            for line in self.sealed_as(key).assessment.lines
            if line.at_limit
        }
        single = {key for key, line in at_limit.items() if line.label_min == line.label_max}
        assert single == {one["key"] for one in self.made if one["job"].startswith("soil-")}
        full = set(at_limit) - single
        assert full == {one["key"] for one in self.made if "rate" in one}
        assert len(full) >= 6
        for line in at_limit.values():
            assert line.at_limit.startswith("at the label’s limit: best estimate ")
            assert line.marks == ("agrees", "agrees")

    def test_the_gauge_that_is_too_coarse_is_said_once_on_the_rig_and_once_in_its_record(
        self,
    ) -> None:
        said = "too coarse for a yardstick of 10 %: whether the plan was kept cannot be decided."
        coarse = {
            key: sealed.assessment.undecided
            for key, sealed in ((one["key"], self.sealed_as(one["key"])) for one in self.made)
            if sealed.assessment.undecided
        }
        assert [*coarse] == ["home-quarter-1012"]
        assert coarse["home-quarter-1012"].endswith(
            f"{said} A gauge good to within 3.0 psi would do."
        )
        assert self.sealed_as("home-quarter-1012").findings == ()
        of_rigs = {
            rig.name: accuracy_of_rig(
                business=self.business, rig=rig, today=date(2026, 11, 6), system="us"
            )
            for rig in Rig.objects.all()
        }
        assert said in of_rigs.pop("Trailed rig")
        assert of_rigs == {"East rig": "", "West rig": ""}

    def test_a_record_made_for_a_caution_has_it(self) -> None:
        made_for = {one["key"]: one["caution"] for one in self.made if "caution" in one}
        assert set(made_for.values()) == {"catch-test", "nozzle-wear"}
        for key, code in made_for.items():
            assert code in {finding.code for finding in self.sealed_as(key).findings}

    def test_every_flag_is_explained_in_the_seal(self) -> None:
        for one in self.made:
            if "flags" in one or "caution" in one:
                assert one["explain"]
            assert self.sealed_as(one["key"]).explanations == one.get("explain", {})

    def test_what_the_explanations_say_of_numbers_is_so(self) -> None:
        slow = self.sealed_as("hollow-2-0605").assessment.lines[1]
        assert slow.subject == "Example Leaf Herbicide 380"
        assert slow.against_label == "agrees"  # "still within the label"
        loads = self.sealed_as("the-point-0727").snapshot.loads
        by_loads = sum(load.used_here.value for load in loads)
        assert by_loads == 1935  # "by the loads … it was 1,935 gallons"

    def test_the_reasons_differ(self) -> None:
        reasons = {
            tuple(sorted(one["explain"])) for one in self.made if "flags" in one or "caution" in one
        }
        assert len(reasons) == 13  # of eleven marked records and two with a caution

    def test_the_expired_licence_is_named_though_a_new_one_was_issued_later(self) -> None:
        findings = self.sealed_as("hollow-1-0804").findings
        sentence = next(one.sentence for one in findings if one.code == "applicator-licence")
        assert "(DEMO-A-207 expired on 2026-07-31)" in sentence

    def test_an_amendment_names_its_record_and_says_why(self) -> None:
        for one in self.season["amendment"]:
            first, second = (self.sealed_as(one[name]) for name in ("of", "key"))
            amends = second.snapshot.amends
            assert amends.number == first.number
            assert amends.seal_sha256 == first.link
            assert amends.reason == one["reason"]

    def test_one_record_ends_after_midnight(self) -> None:
        facts = self.sealed_as("long-eighty-0721").snapshot
        zone = ZoneInfo("America/Chicago")
        assert facts.record.started_at.astimezone(zone).day == 21
        assert facts.record.finished_at.astimezone(zone).day == 22
        assert [str(day) for day in facts.days] == ["2026-07-21", "2026-07-22"]
        assert f"{facts.local_day()}" == "2026-07-21"

    def test_one_load_serves_two_fields_in_order(self) -> None:
        shared = [
            self.sealed_as(key).snapshot.loads[place]
            for key, place in (("north-l-0424", 2), ("long-eighty-0424", 0))
        ]
        assert [load.order for load in shared] == [1, 2]
        assert all(load.shared for load in shared)
        assert sum(load.used_here.value for load in shared) == shared[0].mixed_volume.value
        uses = LoadUse.objects.filter(record_id=row_id("records", "long-eighty-0424"), order=2)
        assert uses.get().load.uses.count() == 2

    def test_liquid_fertilizer_goes_out_in_bands(self) -> None:
        record = self.sealed_as("slough-piece-0618").snapshot.record
        assert record.pattern == "banded"
        assert str(record.density) == "10.65 lb/gal"
        assert record.treated_area.value * 2 == 141

    def test_one_label_has_two_editions_in_the_season(self) -> None:
        editions = {
            product.label.edition
            for sealed in self.sealed.values()
            for product in sealed.snapshot.products
            if product.name == "Example Leaf Herbicide 380"
        }
        assert editions == {"2025-10", "2026-07"}

    def test_both_systems_of_units_are_in_use(self) -> None:
        units = {sealed.snapshot.record.speed.unit for sealed in self.sealed.values()}
        assert units == {"mph", "km/h"}
        assert set(User.objects.values_list("unit_system", flat=True)) == {"us", "metric"}

    def test_everything_says_that_it_is_invented(self) -> None:
        names = [self.business.name, *Product.objects.values_list("name", flat=True)]
        assert all(name.startswith("Example ") for name in names)
        numbers = Product.objects.values_list("registration_number", flat=True)
        assert all(number == "" or number.startswith("DEMO-") for number in numbers)
        assert all(login.email.endswith(".example") for login in logins())

    def test_a_dozen_nozzles_are_finer_with_pressure(self) -> None:
        order = ["XF", "VF", "F", "M", "C", "VC", "XC", "UC"]
        nozzles = NozzleModel.objects.prefetch_related("class_rows")
        assert len(nozzles) == 12
        for nozzle in nozzles:
            ranks = [order.index(row.droplet_class) for row in nozzle.class_rows.all()]
            assert ranks == sorted(ranks, reverse=True)

    def test_the_command_finds_it_loaded_and_names_the_logins(self) -> None:
        connection.check_constraints()
        out = io.StringIO()
        with override_settings(DEBUG=True):
            call_command("demo", no_serve=True, stdout=out)
        assert "The demo is loaded already" in out.getvalue()
        assert "no issues" in out.getvalue()
        for login in logins():
            assert login.email in out.getvalue()
            assert login.password in out.getvalue()


def test_the_command_refuses_where_the_passwords_would_matter(db: None, settings: Any) -> None:
    settings.DEBUG = False
    with pytest.raises(CommandError, match="runs only with DEBUG=1"):
        call_command("demo", no_serve=True)
    assert not Business.objects.exists()


def test_the_command_serves_on_the_next_free_port(
    db: None, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.DEBUG = True
    called: list[tuple[Any, ...]] = []
    monkeypatch.setattr(command, "call_command", lambda *args, **_: called.append(args))
    monkeypatch.setattr(command, "load_demo", lambda **_: 0)
    out = io.StringIO()
    with socket.socket() as busy:
        busy.bind((command.HOST, 0))
        busy.listen()
        port = busy.getsockname()[1]
        call_command("demo", port=port, stdout=out)
    name, address = called[-1]
    assert name == "runserver"
    taken = int(address.removeprefix("127.0.0.1:"))
    assert port < taken < port + command.PORTS_TRIED
    assert f"Open http://{address}/" in out.getvalue()
    assert [args[0] for args in called] == ["migrate", "check", "runserver"]


def test_no_free_port_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(command, "PORTS_TRIED", 1)
    with socket.socket() as busy:
        busy.bind((command.HOST, 0))
        busy.listen()
        port = busy.getsockname()[1]
        with pytest.raises(CommandError, match=f"No port is free from {port} on"):
            command.free_port(port)


def test_a_free_port_is_taken_as_asked() -> None:
    with socket.socket() as probe:
        probe.bind((command.HOST, 0))
        port = probe.getsockname()[1]
    assert command.free_port(port) == port


def test_the_demo_data_needs_numbers_where_it_reckons() -> None:
    assert quantity("15 gal/ac") == Quantity(quantity("15 gal/ac").value, "gal/ac")
    with pytest.raises(ValueError, match='a number with its unit here, not "none"'):
        quantity("none")
