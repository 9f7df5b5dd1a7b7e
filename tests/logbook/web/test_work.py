"""The day's work on its pages: fields in hand, start, the running job, its wind, stop, again."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from logbook.records.models import ApplicationRecord
from logbook.records.writing.work import start_work
from tests import factories as make
from tests.conftest import sealed_by, written
from tests.logbook.web.posts import as_shown


@pytest.fixture(autouse=True)
def _today(monkeypatch: pytest.MonkeyPatch, now: datetime) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


@pytest.fixture
def south(yard: Any) -> Any:
    return make.FieldFactory(customer=yard.customer, business=yard.customer.business, name="South")


def page(browser: Client, name: str, *args: Any, **query: Any) -> str:
    answer = browser.get(reverse(name, args=args), query)
    assert answer.status_code == 200, (name, answer.status_code)
    return re.sub(r"\s+", " ", answer.content.decode())


def line(text: str, field: str) -> str:
    """Return what stands in the line of a field, without its markup."""
    found = next(one for one in text.split('<li class="field-line"')[1:] if field in one)
    bare = re.sub(r"<svg.*?</svg>", "", found.split("</li>")[0])
    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", "", bare.partition(">")[2])).strip()


def start(browser: Client, field: Any, **sent: Any) -> Any:
    return browser.post(
        reverse("today-start"), {"id": uuid.uuid4(), "field": getattr(field, "pk", field), **sent}
    )


def running(owner: Any, field: Any, now: datetime, like: Any = None) -> Any:
    return start_work(
        actor=owner,
        record_id=uuid.uuid4(),
        field_id=field.pk,
        like=like and like.pk,
        now=now - timedelta(minutes=82),
    )


class TestToday:
    def test_a_field_stands_there_with_its_state_in_words(
        self, browser: Client, owner: Any, entry: Any, yard: Any, now: datetime
    ) -> None:
        rows = {
            name: make.FieldFactory(customer=yard.customer, business=owner.business, name=name)
            for name in ("Runs", "Lacks", "Ready", "Closed", "Ahead")
        }
        for field in rows.values():
            make.FieldLocationFactory(field=field)
        whole = {
            name: entry | {"field": field.pk, "planting": make.PlantingFactory(field=field).pk}
            for name, field in rows.items()
        }
        running(owner, rows["Runs"], now)
        written(owner, whole["Lacks"] | {"pressure": None, "purpose": ""})
        # The label closes a field for 12 hours after the work: from 12:00 to midnight.
        written(owner, whole["Ready"] | {"products": []})
        sealed_by(owner, written(owner, whole["Closed"]))
        written(owner, {"field": rows["Ahead"].pk})
        text = page(browser, "today")
        assert line(text, "Runs").startswith("Runs running since 13:38 ")
        assert re.match(r"Lacks ○ ?missing to be completed: \d+ facts?", line(text, "Lacks"))
        assert "closed until 2026-06-13 00:00, re-entry" in line(text, "Closed")
        assert "open, a draft is written" in line(text, "Ahead")
        assert line(text, yard.field.name).startswith(f"{yard.field.name} open ")
        assert yard.customer.name in line(text, yard.field.name)
        assert "125.0 ac" in line(text, yard.field.name)

    def test_what_has_nothing_to_explain_is_ready_to_sign(
        self, browser: Client, clean_draft: Any
    ) -> None:
        text = page(browser, "today")
        assert "ready to sign" in line(text, clean_draft.field.name)
        assert reverse("record-sign", args=[clean_draft.pk]) in text

    def test_start_repeats_the_last_job_and_says_which(
        self, browser: Client, signed: Any, south: Any
    ) -> None:
        text = page(browser, "today")
        assert "Same job as no. 1" in text
        assert "22 fl oz/ac in 15 gal/ac; Rig 1" in text
        assert f'name="like" value="{signed.pk}"' in text
        assert "Start the chosen field" in text  # a script says which
        # The first open line is the one chosen.
        assert len(re.findall(r'name="field"[^>]* checked>', text)) == 1

    def test_where_all_fields_of_the_customer_are_busy_those_of_others_are_offered(
        self, browser: Client, owner: Any, signed: Any
    ) -> None:
        make.FieldFactory(business=owner.business, name="Of another")
        assert line(page(browser, "today"), "Of another").startswith("Of another open ")

    def test_while_a_job_of_ones_own_runs_its_end_and_its_wind_are_at_hand(
        self,
        browser: Client,
        browser_of: Callable[[Any], Client],
        owner: Any,
        office: Any,
        south: Any,
        now: datetime,
    ) -> None:
        job = running(owner, south, now)
        text = page(browser, "today")
        assert reverse("today-stop", args=[job.pk]) in text
        assert reverse("record-wind", args=[job.pk]) in text
        assert 'name="field"' not in text
        theirs = page(browser_of(office), "today")
        assert reverse("today-stop", args=[job.pk]) not in theirs
        assert reverse("today-running", args=[job.pk]) in theirs

    def test_a_field_without_an_outline_is_a_plain_box(self, browser: Client, yard: Any) -> None:
        type(yard.field).objects.filter(pk=yard.field.pk).update(boundary=None, area_ha=None)
        text = page(browser, "today")
        assert "data-box" not in text
        assert "<svg" in text

    def test_of_a_business_without_fields_nothing_is_asked(
        self, browser: Client, owner: Any
    ) -> None:
        text = page(browser, "today")
        assert "Fields in hand" not in text
        assert reverse("today-start") not in text

    def test_queries_do_not_grow_with_the_fields(
        self,
        browser: Client,
        owner: Any,
        signed: Any,
        now: datetime,
        django_assert_num_queries: Any,
    ) -> None:
        def more(count: int) -> None:
            for _ in range(count):
                # Not sealed, not in the range of catch tests: what is asked one draft at a time.
                field = make.FieldFactory(customer=signed.customer, business=owner.business)
                written(owner, {"field": field.pk})
                make.FieldFactory(customer=signed.customer, business=owner.business)

        more(1)
        with CaptureQueriesContext(connection) as few:
            page(browser, "today")
        with CaptureQueriesContext(connection) as few_fields:
            page(browser, "today-fields")
        more(3)
        with django_assert_num_queries(len(few)):
            page(browser, "today")
        with django_assert_num_queries(len(few_fields)):
            page(browser, "today-fields")


class TestStart:
    def test_it_begins_the_draft_and_leads_to_the_running_job(
        self, browser: Client, signed: Any, south: Any, now: datetime
    ) -> None:
        new = uuid.uuid4()
        for _ in range(2):  # a double tap
            answer = start(browser, south, id=new, like=signed.pk)
            assert answer.headers["Location"] == reverse("today-running", args=[new])
        job = ApplicationRecord.objects.get(field=south)
        assert (job.pk, job.started_at, job.rig) == (new, now, signed.rig)

    def test_a_draft_written_ahead_is_started_not_begun_anew(
        self, browser: Client, owner: Any, south: Any
    ) -> None:
        draft = written(owner, {"field": south.pk, "purpose": "from the evening before"})
        shown = re.search(
            r'name="field" value="([^"]+)"[^>]*data-name="South"', page(browser, "today")
        )
        assert shown
        start(browser, shown[1])
        job = ApplicationRecord.objects.get(field=south)
        assert (job.pk, job.purpose) == (draft.pk, "from the evening before")
        assert job.started_at

    def test_without_a_field_it_asks_for_one(self, browser: Client, south: Any) -> None:
        for field in ("", "nonsense"):
            answer = start(browser, field)
            assert answer.status_code == 303
            assert "Choose the field on which the work starts." in page(browser, "today")
        assert not ApplicationRecord.objects.exists()

    def test_what_is_another_business_s_is_not_there(
        self, browser: Client, stranger: Any, south: Any
    ) -> None:
        theirs = make.FieldFactory(business=stranger.business)
        assert start(browser, theirs).status_code == 404
        job = written(stranger, {"field": theirs.pk})
        assert start(browser, south, like=job.pk).status_code == 404
        for name in ("today-running", "today-stop"):
            way = browser.post if name == "today-stop" else browser.get
            assert way(reverse(name, args=[job.pk])).status_code == 404
        assert browser.get(reverse("today-fields"), {"like": job.pk}).status_code == 404
        assert not ApplicationRecord.objects.filter(field=south).exists()

    def test_a_page_gone_back_to_starts_no_finished_job(
        self, browser: Client, owner: Any, south: Any, now: datetime
    ) -> None:
        new = uuid.uuid4()
        start(browser, south, id=new)
        browser.post(reverse("today-stop", args=[new]))
        assert start(browser, south, id=new).status_code == 303
        assert "This page was sent before, for another job." in page(browser, "today")


class TestRunning:
    def test_it_shows_what_a_cab_reads(
        self, browser: Client, owner: Any, signed: Any, yard: Any, now: datetime
    ) -> None:
        job = running(owner, yard.field, now, like=signed)
        make.WeatherReadingFactory(record=job, read_at=now, wind_from=make.q("270 °"))
        text = page(browser, "today-running", job.pk)
        assert "running since 13:38" in text
        assert ">1:22</span>" in text
        # 5940 × 0.40 gal/min / (15 gal/ac × 20 in) = 7.92 mph at 40 psi (the constant of UF/IFAS
        # WG013); 8 mph needs 40 · (8/7.92)² = 40.8 psi, twice the flow four times the pressure.
        cells = re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", text)
        bare = [re.sub(r"<[^>]*>", "", cell).strip() for cell in cells]
        speeds, gauge = bare.index("mph"), bare.index("psi")
        columns = gauge - speeds
        by_speed = dict(zip(bare[speeds:gauge], bare[gauge : gauge + columns], strict=True))
        assert by_speed["8"] == "41"
        assert "48 tips, 04 red" in text
        assert "Wind from W, 8 mph" in text
        assert "The label allows 3 to 15 mph." in text
        # The slough lies east of the field: with a west wind it is downwind.
        assert re.search(r"Downwind now: Long slough, [\d,]+ ft E", text)
        # 125.0 ac × 15 gal/ac = 1875 gal: three fills of 800 gal.
        assert "125.0 ac at 15 gal/ac takes 1875 gal: 3 tanks of 800 gal." in text

    def test_before_the_first_reading_nothing_is_called_downwind(
        self, browser: Client, owner: Any, signed: Any, yard: Any, now: datetime
    ) -> None:
        text = page(browser, "today-running", running(owner, yard.field, now, like=signed).pk)
        assert "No wind taken yet" in text
        assert "Downwind now" not in text
        assert re.search(r"Nearest: Long slough, [\d,]+ ft E", text)

    def test_in_calm_air_no_side_is_called_safe(
        self, browser: Client, owner: Any, signed: Any, yard: Any, now: datetime
    ) -> None:
        job = running(owner, yard.field, now, like=signed)
        calm = make.q("not applicable")
        make.WeatherReadingFactory(
            record=job, read_at=now, wind_from=calm, wind_speed=make.q("0 mph")
        )
        text = page(browser, "today-running", job.pk)
        assert "Wind calm, 0 mph" in text
        assert "In calm air spray may drift to any side." in text
        # The label asks for 3 mph at least.
        assert '<span class="mark mark-breach">' in text

    def test_what_lacks_for_the_table_is_named(
        self, browser: Client, owner: Any, south: Any, now: datetime
    ) -> None:
        text = page(browser, "today-running", running(owner, south, now).pk)
        assert "For the table of speed and pressure enter: " in text
        assert "planned carrier" in text
        assert 'class="cab-table"' not in text

    def test_without_an_outline_downwind_is_not_known_and_that_is_said(
        self, browser: Client, owner: Any, south: Any, now: datetime
    ) -> None:
        type(south).objects.filter(pk=south.pk).update(boundary=None, area_ha=None)
        text = page(browser, "today-running", running(owner, south, now).pk)
        assert "Downwind: not known" in text

    def test_a_class_that_the_label_does_not_allow_is_marked(
        self, browser: Client, owner: Any, signed: Any, yard: Any, now: datetime
    ) -> None:
        yard.label.finest_class = "UC"
        yard.label.save()
        text = page(browser, "today-running", running(owner, yard.field, now, like=signed).pk)
        assert "■ is a droplet class that the label does not allow." in text

    def test_what_does_not_run_leads_to_its_page(
        self, browser: Client, owner: Any, clean_draft: Any, south: Any, now: datetime
    ) -> None:
        def way(record: Any) -> str:
            return str(browser.get(reverse("today-running", args=[record.pk])).headers["Location"])

        assert way(clean_draft) == reverse("record-edit", args=[clean_draft.pk])
        left = start_work(
            actor=owner,
            record_id=uuid.uuid4(),
            field_id=south.pk,
            like=None,
            now=now - timedelta(hours=25),
        )
        assert way(left) == reverse("record-edit", args=[left.pk])
        assert way(sealed_by(owner, clean_draft)) == reverse("record", args=[clean_draft.pk])

    def test_stop_writes_the_end_and_leads_to_the_draft(
        self, browser: Client, owner: Any, south: Any, now: datetime
    ) -> None:
        job = running(owner, south, now)
        for _ in range(2):
            answer = browser.post(reverse("today-stop", args=[job.pk]))
            assert answer.headers["Location"] == reverse("record-edit", args=[job.pk])
        job.refresh_from_db()
        assert job.finished_at == now
        assert "The work ended 2026-06-12 15:00 CDT." in page(browser, "record-edit", job.pk)


class TestWind:
    def taken(self, browser: Client, job: Any, **sent: Any) -> Any:
        where = reverse("record-wind", args=[job.pk])
        return browser.post(where, as_shown(browser, where) | sent)

    def test_a_reading_has_its_degrees_cloud_and_signs(
        self, browser: Client, owner: Any, south: Any, now: datetime
    ) -> None:
        job = running(owner, south, now)
        said = {"wind_from": "200", "wind_speed_value": "8", "wind_speed_unit": "mph"}
        said |= {"cloud": "25", "signs": ["dew", "mist"]}
        answer = self.taken(browser, job, **said)
        assert answer.headers["Location"] == reverse("today-running", args=[job.pk])
        reading = job.weather.get()
        assert (reading.wind_from, reading.wind_speed) == (make.q("200 °"), make.q("8 mph"))
        assert (reading.cloud, sorted(reading.signs)) == (make.q("25 %"), ["dew", "mist"])
        assert reading.read_at == now
        assert "Grey: the reading of 15:00, from SSW, 200°." in page(browser, "record-wind", job.pk)

    def test_none_of_these_is_an_answer_and_nothing_touched_is_none(
        self, browser: Client, owner: Any, south: Any, now: datetime
    ) -> None:
        job = running(owner, south, now)
        self.taken(browser, job, signs="none", wind_speed_value="6", wind_speed_unit="mph")
        reading = job.weather.get()
        assert (reading.signs, reading.cloud, reading.wind_from) == ([], None, None)

    @pytest.mark.parametrize(
        "said",
        [
            {"wind_from": "361"},
            {"wind_from": "0"},
            {"wind_from": "-5"},
            {"wind_from": "12.5x"},
            {"wind_from": "٣"},
            {"cloud": "30"},
            {"signs": ["none", "dew"]},
            {"signs": ["fog horn"]},
        ],
    )
    def test_what_cannot_be_is_refused(
        self, browser: Client, owner: Any, south: Any, now: datetime, said: dict[str, Any]
    ) -> None:
        job = running(owner, south, now)
        answer = self.taken(browser, job, **said)
        assert answer.status_code == 422
        assert "errorlist" in answer.content.decode()
        assert not job.weather.exists()

    def test_the_label_s_band_stands_on_the_slide(
        self, browser: Client, owner: Any, signed: Any, yard: Any, now: datetime
    ) -> None:
        text = page(browser, "record-wind", running(owner, yard.field, now, like=signed).pk)
        assert "The label allows 3 to 15 mph." in text
        assert 'data-most="20" data-unit="mph"' in text


class TestAgain:
    def test_each_record_offers_its_job_for_another_field(
        self, browser: Client, owner: Any, signed: Any, entry: Any, south: Any
    ) -> None:
        draft = written(owner, entry)
        for name, record in (("record", signed), ("record", draft), ("record-edit", draft)):
            way = f"{reverse('today-fields')}?like={record.pk}"
            assert way in page(browser, name, record.pk)
        text = page(browser, "today-fields", like=signed.pk)
        assert "Same job as no. 1" in text
        assert f'name="like" value="{signed.pk}"' in text
        assert line(text, "South").startswith("South open ")
        # Sprayed at noon under a re-entry interval of 12 hours, and not the one proposed.
        assert "closed until 2026-06-13 00:00, re-entry" in line(text, signed.field.name)
        assert re.search(r'data-name="South" checked', text)

    def test_a_field_on_which_a_job_runs_is_not_started_again(
        self, browser: Client, owner: Any, south: Any, now: datetime
    ) -> None:
        job = running(owner, south, now)
        text = page(browser, "today-fields")
        assert reverse("today-running", args=[job.pk]) in text
        assert 'data-name="South"' not in text

    def test_another_job_is_chosen_from_those_of_late_each_once(
        self, browser: Client, owner: Any, signed: Any, entry: Any, south: Any
    ) -> None:
        other = make.ProductFactory(business=owner.business, name="Mould-off")
        products = [{"product": other.pk, "planned_rate": make.q("6 fl oz/ac")}]
        written(owner, entry)  # the same again
        different = written(owner, entry | {"products": products, "loads": []})
        text = page(browser, "today-jobs")
        assert text.count('class="job-line"') == 2
        assert f"?like={different.pk}" in text
        chosen = page(browser, "today", like=different.pk)
        assert "Mould-off" in chosen
        assert f'name="like" value="{different.pk}"' in chosen

    def test_nonsense_asked_as_a_job_is_none(
        self, browser: Client, signed: Any, south: Any
    ) -> None:
        assert "Same job as no. 1" in page(browser, "today", like="nonsense")
