"""The pages round the form: taken over, like this one, set aside, the wind of now, a choice."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from logbook.records.models import ApplicationRecord
from logbook.records.writing.discard import set_aside
from logbook.records.writing.draft import save_draft
from tests import factories as make
from tests.conftest import sealed_by
from tests.logbook.web.posts import as_shown


@pytest.fixture(autouse=True)
def _today(monkeypatch: pytest.MonkeyPatch, now: datetime) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: now)


def address(name: str, record: Any) -> str:
    return reverse(name, args=[getattr(record, "pk", record)])


def begun(browser: Client, **sent: Any) -> Any:
    new = uuid.uuid4()
    answer = browser.post(reverse("record-new"), {"id": new, **sent})
    assert answer.status_code == 302
    return ApplicationRecord.objects.get(pk=new)


def test_a_new_record_says_beside_each_line_what_was_taken_over(
    browser: Client, signed: Any
) -> None:
    new = begun(browser)
    page = browser.get(address("record-edit", new)).content.decode()
    assert page.count("As in no. 1, 2026-06-12. Still true") == 5
    assert page.count(". Still true") == len(new.carried) == 7
    # What one tick confirms is listed, each line with where it is from.
    listed = page.split('id="carried-all"')[1].split("</ul>")[0]
    assert "What was taken over, 7 lines" in listed
    assert listed.count("as in no. 1, 2026-06-12") == 5
    assert "the only one on the shelf" in listed
    shown = as_shown(browser, address("record-edit", new))
    browser.post(address("record-edit", new), shown | {"carried-boom_height": "on"})
    new.refresh_from_db()
    assert "boom_height" not in new.carried
    assert "nozzle_set" in new.carried
    browser.post(
        address("record-edit", new),
        as_shown(browser, address("record-edit", new)) | {"carried-all": "on"},
    )
    new.refresh_from_db()
    assert new.carried == {}


def test_choosing_a_field_brings_its_crop_and_says_so(
    browser: Client, signed: Any, yard: Any
) -> None:
    make.FieldFactory(business=yard.field.business, name="South")
    new = begun(browser)
    shown = as_shown(browser, address("record-edit", new)) | {"field": str(yard.field.pk)}
    answer = browser.post(address("record-check", new), shown)
    assert 'id="holder-with" hx-swap-oob="true"' in answer.content.decode()
    new.refresh_from_db()
    assert new.planting == yard.planting
    assert new.carried["planting"]["number"] == 1


def test_the_sign_page_lists_what_was_taken_over_and_asks_once(
    browser: Client, clean_draft: Any
) -> None:
    carried = {"boom_height": {"record": "", "number": 7, "day": "2026-06-01"}}
    ApplicationRecord.objects.filter(pk=clean_draft.pk).update(carried=carried)
    page = as_shown(browser, address("record-sign", clean_draft))
    page["password"] = make.PASSWORD
    refused = browser.post(address("record-sign", clean_draft), page)
    assert refused.status_code == 422
    text = refused.content.decode()
    assert "as in no. 7, 2026-06-01" in text
    assert '<input type="checkbox" name="carried_confirmed" required' in text
    assert "true of this job <span" in text
    assert "The password is never sent back" in text
    assert make.PASSWORD not in text
    clean_draft.refresh_from_db()
    assert clean_draft.signed_at is None
    browser.post(address("record-sign", clean_draft), page | {"carried_confirmed": "on"})
    clean_draft.refresh_from_db()
    assert clean_draft.signed_at is not None


def test_a_box_that_was_ticked_stays_ticked_when_something_else_is_refused(
    browser: Client, clean_draft: Any
) -> None:
    carried = {"boom_height": {"record": "", "number": 7, "day": "2026-06-01"}}
    ApplicationRecord.objects.filter(pk=clean_draft.pk).update(carried=carried)
    sent = as_shown(browser, address("record-sign", clean_draft)) | {"carried_confirmed": "on"}
    refused = browser.post(address("record-sign", clean_draft), sent | {"password": "wrong"})
    assert refused.status_code == 422
    assert 'name="carried_confirmed" required checked' in refused.content.decode()


def test_a_record_like_this_one_is_begun_from_its_page(browser: Client, signed: Any) -> None:
    new = uuid.uuid4()
    answer = browser.post(address("record-like", signed), {"id": new})
    assert answer.headers["Location"] == address("record-edit", new)
    assert ApplicationRecord.objects.get(pk=new).field == signed.field


def test_a_draft_is_set_aside_with_a_reason_and_brought_back(
    browser: Client, clean_draft: Any
) -> None:
    # One deed, one word, on the pages that offer it and on its own.
    for name in ("record", "record-edit", "record-aside"):
        offered = browser.get(address(name, clean_draft)).content.decode()
        assert "Set this draft aside" in offered
        assert "hrow" not in offered
    assert browser.post(address("record-aside", clean_draft), {"reason": ""}).status_code == 422
    browser.post(address("record-aside", clean_draft), {"reason": "begun twice"})
    assert "North L" not in browser.get(reverse("book")).content.decode()
    listed = browser.get(reverse("book") + "?state=aside").content.decode()
    assert "North L" in listed
    page = browser.get(address("record", clean_draft)).content.decode()
    assert "Set aside by The owner" in page
    assert "begun twice" in page
    # Neither its form nor its wind page opens.
    for name in ("record-edit", "record-wind"):
        assert browser.get(address(name, clean_draft)).status_code == 302
    assert "1 draft set aside" in browser.get(reverse("today")).content.decode()
    browser.post(address("record-back", clean_draft))
    assert browser.get(address("record-edit", clean_draft)).status_code == 200


def test_a_draft_set_aside_offers_only_to_be_brought_back(
    browser: Client, clean_draft: Any, owner: Any, now: datetime
) -> None:
    offers = (
        "record-notice-before",
        "record-posting",
        "record-notice-completed",
        "record-duties",
        "record-like",
        "record-resume",
        "record-edit",
        "record-sign",
    )
    page = browser.get(address("record", clean_draft)).content.decode()
    for name in offers:
        assert f'"{address(name, clean_draft)}"' in page, name
    set_aside(actor=owner, record_id=clean_draft.pk, reason="begun twice", now=now)
    page = browser.get(address("record", clean_draft)).content.decode()
    for name in offers:
        assert address(name, clean_draft) not in page, name
    assert f'"{address("record-back", clean_draft)}"' in page


def test_when_a_draft_was_set_aside_is_told_by_the_clock_of_the_business(
    browser: Client, business: Any, now: datetime
) -> None:
    # 20:00 UTC in Chicago (tz database); the draft names no field, so it has no clock of its own.
    draft = make.ApplicationRecordFactory(business=business, time_zone="UTC")
    browser.post(address("record-aside", draft), {"reason": "begun twice"})
    browser.post(address("record-back", draft))
    page = browser.get(address("record", draft)).content.decode()
    assert "Set aside by The owner on 2026-06-12 15:00 CDT" in page
    assert "Brought back by The owner on 2026-06-12 15:00 CDT" in page


def test_who_did_not_begin_a_draft_does_not_throw_it_away(
    browser_of: Callable[[Any], Client], clean_draft: Any, helper: Any, stranger: Any, owner: Any
) -> None:
    other = browser_of(helper)
    assert other.get(address("record-aside", clean_draft)).status_code == 403
    assert other.post(address("record-aside", clean_draft), {"reason": "mine"}).status_code == 403
    foreign = browser_of(stranger)
    for name in ("record-aside", "record-back", "record-wind", "record-like"):
        sent = foreign.post(address(name, clean_draft), {"reason": "not mine"})
        assert sent.status_code == 404, name
    set_aside(actor=owner, record_id=clean_draft.pk, reason="done with", now=datetime.now(UTC))
    assert other.post(address("record-back", clean_draft)).status_code == 403


@pytest.fixture
def under_way(clean_draft: Any) -> Any:
    """The draft while its work goes on."""
    clean_draft.finished_at = None
    clean_draft.save()
    return clean_draft


def test_the_wind_of_now_is_added_with_the_instant_and_no_other_reading_changes(
    browser: Client, under_way: Any, now: datetime
) -> None:
    clean_draft = under_way
    page = as_shown(browser, address("record-wind", clean_draft))
    assert page["read_at"] == "2026-06-12T15:00"  # 20:00 UTC at a field in Chicago
    page |= {"wind_from": "360", "wind_speed_value": "7", "wind_speed_unit": "mph"}
    for _ in range(2):  # a double click adds one
        answer = browser.post(address("record-wind", clean_draft), page)
        # While the work goes on, back to it.
        assert answer.headers["Location"] == address("today-running", clean_draft)
    assert clean_draft.weather.count() == 5
    reading = clean_draft.weather.last()
    assert reading.read_at == now
    assert (reading.wind_from, reading.wind_speed) == (make.q("360 °"), make.q("7 mph"))
    assert reading.temperature is None


def test_work_that_is_over_has_no_wind_of_now(browser: Client, clean_draft: Any) -> None:
    """It ended hours ago: the time stands open, and a reading with the right one is taken."""
    page = browser.get(address("record-wind", clean_draft)).content.decode()
    assert "The work of this draft ended 2026-06-12" in page
    sent = as_shown(browser, address("record-wind", clean_draft))
    assert sent["read_at"] == sent["shown_at"] == ""
    sent |= {"wind_from": "360", "wind_speed_value": "7", "wind_speed_unit": "mph"}
    assert browser.post(address("record-wind", clean_draft), sent).status_code == 422
    browser.post(address("record-wind", clean_draft), sent | {"read_at": "2026-06-12T09:50"})
    added = clean_draft.weather.get(read_at="2026-06-12T14:50:00Z")
    assert added.wind_speed == make.q("7 mph")


def test_calm_has_no_direction(browser: Client, under_way: Any) -> None:
    clean_draft = under_way
    page = as_shown(browser, address("record-wind", clean_draft))
    page |= {"wind_from": "calm", "wind_speed_value": "0", "wind_speed_unit": "mph"}
    browser.post(address("record-wind", clean_draft), page)
    assert clean_draft.weather.last().wind_from == make.q("not applicable")


def test_a_wind_that_cannot_be_read_is_refused_beside_its_input(
    browser: Client, under_way: Any
) -> None:
    clean_draft = under_way
    page = as_shown(browser, address("record-wind", clean_draft))
    for sent in (
        {"wind_speed_value": "brisk", "wind_speed_unit": "mph"},
        {"wind_speed_value": "700", "wind_speed_unit": "mph"},
        {"wind_from": "400"},
        {"read_at": ""},
    ):
        answer = browser.post(address("record-wind", clean_draft), page | sent)
        assert answer.status_code == 422, sent
    assert clean_draft.weather.count() == 4


def test_the_button_of_the_form_saves_what_was_typed_before_it_goes_to_the_wind(
    browser: Client, clean_draft: Any
) -> None:
    shown = as_shown(browser, address("record-edit", clean_draft))
    sent = shown | {"note": "typed before", "then": "wind"}
    answer = browser.post(address("record-edit", clean_draft), sent)
    assert answer.headers["Location"] == address("record-wind", clean_draft)
    clean_draft.refresh_from_db()
    assert clean_draft.note == "typed before"


def test_the_second_of_two_equal_hours_is_chosen_only_where_there_are_two(
    browser: Client, clean_draft: Any
) -> None:
    # America/Chicago went from 02:00 CDT to 01:00 CST on 1 November 2026 (tz database).
    shown = as_shown(browser, address("record-edit", clean_draft))
    assert "weather-0-hour" not in shown
    shown["weather-0-read_at"] = "2026-11-01T01:30"
    answer = browser.post(address("record-check", clean_draft), shown).content.decode()
    assert 'id="holder-weather" hx-swap-oob="true"' in answer
    # It moved to the end, behind the readings of June.
    shown = as_shown(browser, address("record-edit", clean_draft))
    assert shown["weather-3-hour"] == "0"
    browser.post(address("record-edit", clean_draft), shown | {"weather-3-hour": "1"})
    assert clean_draft.weather.last().read_at == datetime(2026, 11, 1, 7, 30, tzinfo=UTC)
    shown = as_shown(browser, address("record-edit", clean_draft))
    assert shown["weather-3-hour"] == "1"
    browser.post(address("record-edit", clean_draft), shown)
    assert clean_draft.weather.last().read_at == datetime(2026, 11, 1, 7, 30, tzinfo=UTC)


def test_two_readings_of_one_minute_keep_their_seconds(
    browser: Client, owner: Any, clean_draft: Any
) -> None:
    instants = [datetime(2026, 6, 12, 15, 10, second, tzinfo=UTC) for second in (5, 40)]
    readings = [{"read_at": one, "wind_speed": make.q("5 mph")} for one in instants]
    save_draft(
        actor=owner,
        record_id=clean_draft.pk,
        revision=clean_draft.revision,
        data={"weather": readings},
    )
    shown = as_shown(browser, address("record-edit", clean_draft))
    browser.post(address("record-edit", clean_draft), shown)
    assert [one.read_at for one in clean_draft.weather.all()] == instants
    shown = as_shown(browser, address("record-edit", clean_draft))
    browser.post(address("record-edit", clean_draft), shown | {"weather-0-drop": "on"})
    assert [one.read_at for one in clean_draft.weather.all()] == instants[1:]


def test_times_stay_the_clock_on_the_wall_when_the_field_of_another_zone_is_chosen(
    browser: Client, business: Any, clean_draft: Any
) -> None:
    field = make.FieldFactory(business=business, time_zone="America/Denver")
    shown = as_shown(browser, address("record-edit", clean_draft))
    times = {name: text for name, text in shown.items() if name.endswith("_at")}
    assert len(times) == 6
    browser.post(address("record-edit", clean_draft), shown | {"field": str(field.pk)})
    clean_draft.refresh_from_db()
    assert clean_draft.time_zone == "America/Denver"
    after = as_shown(browser, address("record-edit", clean_draft))
    assert {name: after[name] for name in times} == times


def test_amounts_typed_beside_a_load_that_is_chosen_are_kept(
    browser: Client, business: Any, owner: Any, clean_draft: Any, yard: Any
) -> None:
    load = clean_draft.load_uses.first().load
    shown = as_shown(browser, address("record-edit", clean_draft))
    part = f"loads-0-part_{yard.product.pk}_value"
    assert shown["loads-0-load"] == str(load.pk)
    typed = {"loads-0-mixed_volume_value": "", part: "1000"}
    browser.post(address("record-edit", clean_draft), shown | typed)
    load.refresh_from_db()
    assert str(load.mixed_volume) == "700 gal"
    assert str(load.parts.get().amount) == "1000 fl oz"


def test_a_choice_of_the_plan_is_taken_into_a_record(browser: Client, yard: Any) -> None:
    asked = {
        "rig": yard.rig.pk,
        "label": yard.label.pk,
        **{f"speed_low_{k}": v for k, v in (("value", "6"), ("unit", "mph"))},
        **{f"speed_high_{k}": v for k, v in (("value", "9"), ("unit", "mph"))},
    }
    page = browser.get(reverse("plan"), asked).content.decode()
    assert "Begin a record with it on Rig 1" in page
    new = begun(browser, nozzle_set=yard.nozzle_set.pk, planned_carrier="15.0 gal/ac")
    assert (new.nozzle_set, new.planned_carrier) == (yard.nozzle_set, make.q("15.0 gal/ac"))
    assert (new.pressure, new.speed) == (None, None)
    wrong = begun(browser, nozzle_set=uuid.uuid4(), planned_carrier="15.0 gal/ac")
    assert wrong.planned_carrier is None
    assert "The choice was not taken" in browser.get(reverse("today")).content.decode()


def test_the_label_of_the_plan_brings_its_product_but_no_rate(browser: Client, yard: Any) -> None:
    new = begun(browser, nozzle_set=yard.nozzle_set.pk, label=yard.label.pk)
    (line,) = new.products.all()
    assert (line.product, line.label, line.planned_rate) == (yard.product, yard.label, None)
    page = browser.get(address("record-edit", new)).content.decode()
    assert "From the label chosen for the plan, edition 2025-11. Still true" in page
    wrong = begun(browser, nozzle_set=yard.nozzle_set.pk, label=uuid.uuid4())
    assert not wrong.products.exists()
    assert "There is no such label edition" in browser.get(reverse("today")).content.decode()


def test_today_tells_a_new_business_what_to_put_on_the_shelf_first(
    browser: Client, business: Any
) -> None:
    def steps() -> str:
        return browser.get(reverse("today")).content.decode()

    assert "Before the first record" in steps()
    assert steps().count("done:") == 0
    make.FieldFactory(business=business)
    assert steps().count("done:") == 2  # the field and its customer


def test_today_tells_no_first_steps_once_a_record_is_signed(browser: Client, signed: Any) -> None:
    assert "Before the first record" not in browser.get(reverse("today")).content.decode()


def test_today_names_the_drafts_with_findings_to_explain(browser: Client, clean_draft: Any) -> None:
    assert "Findings without explanation" not in browser.get(reverse("today")).content.decode()
    ApplicationRecord.objects.filter(pk=clean_draft.pk).update(applicator=None)
    assert "Findings without explanation" in browser.get(reverse("today")).content.decode()


def test_a_unit_that_is_not_offered_stays_as_it_was_entered(
    browser: Client, clean_draft: Any
) -> None:
    page = browser.get(address("record-edit", clean_draft)).content.decode()
    carrier = page[page.index('name="planned_carrier_unit"') :].split("</select>")[0]
    assert "fl oz/ac" not in carrier
    ApplicationRecord.objects.filter(pk=clean_draft.pk).update(planned_carrier="1920 fl oz/ac")
    shown = as_shown(browser, address("record-edit", clean_draft))
    assert shown["planned_carrier_unit"] == "fl oz/ac"
    browser.post(address("record-edit", clean_draft), shown)
    clean_draft.refresh_from_db()
    assert str(clean_draft.planned_carrier) == "1920 fl oz/ac"


class TestClosedElsewhere:
    """Another window signed the record, or set it aside: what this one held is given back."""

    def test_what_a_stale_tab_held_is_given_back(
        self, browser: Client, owner: Any, clean_draft: Any
    ) -> None:
        sent = as_shown(browser, address("record-edit", clean_draft)) | {
            "note": "the <b>north</b> end was wet",
            "speed_value": "6.25",
            "weather-0-gust_value": "eleven",
        }
        sealed_by(owner, clean_draft)
        stood = facts_of(clean_draft)
        answer = browser.post(address("record-edit", clean_draft), sent)
        page = answer.content.decode()
        assert answer.status_code == 409
        assert "signed and sealed; begin an amendment" in page
        for told in ("the &lt;b&gt;north&lt;/b&gt; end was wet", "6.25 mph", "eleven", "Leafkill"):
            assert told in page
        assert facts_of(clean_draft) == stood

    def test_a_draft_set_aside_gives_it_back_with_the_way_to_go_on(
        self, browser: Client, owner: Any, clean_draft: Any, now: datetime
    ) -> None:
        sent = as_shown(browser, address("record-edit", clean_draft)) | {"note": "late words"}
        set_aside(actor=owner, record_id=clean_draft.pk, reason="begun twice", now=now)
        answer = browser.post(address("record-edit", clean_draft), sent)
        page = answer.content.decode()
        assert answer.status_code == 409
        assert "late words" in page
        assert address("record-back", clean_draft) in page
        clean_draft.refresh_from_db()
        assert clean_draft.note == ""

    def test_the_page_that_saves_by_itself_keeps_its_window(
        self, browser: Client, owner: Any, clean_draft: Any
    ) -> None:
        sent = as_shown(browser, address("record-edit", clean_draft)) | {"note": "late words"}
        sealed_by(owner, clean_draft)
        answer = browser.post(
            address("record-check", clean_draft), sent, headers={"HX-Request": "true"}
        )
        assert "HX-Redirect" not in answer.headers
        assert "signed and sealed; begin an amendment" in answer.content.decode()
        assert 'data-saved="closed"' in answer.content.decode()

    def test_a_reading_is_given_back(self, browser: Client, owner: Any, clean_draft: Any) -> None:
        sent = as_shown(browser, address("record-wind", clean_draft)) | {
            "wind_from": "270",
            "wind_speed_value": "7.5",
        }
        sealed_by(owner, clean_draft)
        answer = browser.post(address("record-wind", clean_draft), sent)
        assert answer.status_code == 409
        assert "7.5 mph" in answer.content.decode()
        assert clean_draft.weather.count() == 4

    def test_what_was_explained_is_given_back_and_a_double_click_is_none(
        self, browser: Client, clean_draft: Any
    ) -> None:
        sent = as_shown(browser, address("record-sign", clean_draft))
        sent["password"] = make.PASSWORD
        for _ in range(2):
            answer = browser.post(address("record-sign", clean_draft), sent)
            assert answer.headers["Location"] == address("record", clean_draft)
        answer = browser.post(
            address("record-sign", clean_draft), sent | {"explain:wind:": "It was calm later."}
        )
        assert answer.status_code == 409
        assert "It was calm later." in answer.content.decode()


def facts_of(record: Any) -> tuple[Any, ...]:
    record.refresh_from_db()
    return record.note, record.revision, str(record.speed), record.seal.link


class TestInputsThatWereNotSent:
    """They say nothing: what stands stays."""

    def test_the_columns_keep_their_values(self, browser: Client, clean_draft: Any) -> None:
        whole = form_of(browser, clean_draft)
        lists = {name: value for name, value in whole.items() if name.split("-")[0] in LISTS}
        sent = {"revision": whole["revision"], **lists, "note": "only a note"}
        answer = browser.post(address("record-edit", clean_draft), sent)
        assert answer.status_code == 302
        assert form_of(browser, clean_draft) == whole | {
            "revision": str(int(whole["revision"]) + 1),
            "note": "only a note",
        }

    def test_none_ticked_is_told_from_none_sent(
        self, browser: Client, owner: Any, business: Any, clean_draft: Any
    ) -> None:
        mate = make.PersonFactory(business=business)
        save_draft(
            actor=owner,
            record_id=clean_draft.pk,
            revision=clean_draft.revision,
            data={"crew": [mate.pk]},
        )
        shown = form_of(browser, clean_draft)
        assert shown.pop("crew") == [str(mate.pk)]
        unsent = {name: value for name, value in shown.items() if name != "crew-shown"}
        browser.post(address("record-edit", clean_draft), unsent)
        assert clean_draft.crew.count() == 1
        shown = form_of(browser, clean_draft)
        del shown["crew"]
        browser.post(address("record-edit", clean_draft), shown)
        assert clean_draft.crew.count() == 0

    @pytest.mark.parametrize(
        "lost",
        ["products-0-target", "weather-1-wind_speed", "weather-2-signs", "loads-0-used"],
    )
    def test_a_line_that_lacks_one_leaves_its_list_as_it_stands(
        self, browser: Client, clean_draft: Any, lost: str
    ) -> None:
        shown = form_of(browser, clean_draft)
        sent = {name: value for name, value in shown.items() if not name.startswith(lost)}
        assert sent != shown
        answer = browser.post(address("record-edit", clean_draft), sent)
        assert answer.status_code == 422
        assert "arrived without all of its lines" in answer.content.decode()
        assert form_of(browser, clean_draft) == shown

    def test_a_list_that_did_not_arrive_is_shown_as_it_stands(
        self, browser: Client, clean_draft: Any
    ) -> None:
        shown = form_of(browser, clean_draft)
        del shown["weather-count"]
        answer = browser.post(address("record-edit", clean_draft), shown)
        assert answer.status_code == 422
        assert 'name="weather-3-wind_speed_value"' in answer.content.decode()

    def test_what_was_put_in_a_load_stays(self, browser: Client, clean_draft: Any) -> None:
        shown = form_of(browser, clean_draft)
        sent = {name: value for name, value in shown.items() if "-part_" not in name}
        assert browser.post(address("record-edit", clean_draft), sent).status_code == 302
        shown["revision"] = str(int(shown["revision"]) + 1)
        assert form_of(browser, clean_draft) == shown


def form_of(browser: Client, record: Any) -> dict[str, Any]:
    """Return what a browser sends of a draft's form, without the token of the page."""
    sent = as_shown(browser, address("record-edit", record))
    del sent["csrfmiddlewaretoken"]
    return sent


LISTS = ("products", "loads", "weather")


def test_a_new_reading_in_a_repeated_hour_is_asked_about_before_the_next_page(
    browser: Client, clean_draft: Any
) -> None:
    # America/Chicago went from 02:00 CDT to 01:00 CST on 1 November 2026 (tz database).
    shown = form_of(browser, clean_draft)
    sent = shown | {"weather-0-read_at": "2026-11-01T01:30", "then": "sign"}
    answer = browser.post(address("record-edit", clean_draft), sent, follow=True)
    assert answer.redirect_chain == [
        (address("record-edit", clean_draft) + "#section-weather", 302)
    ]
    assert "say of the reading in that hour which of the two it was" in answer.content.decode()
    shown = form_of(browser, clean_draft)
    sent = shown | {"weather-3-hour": "1", "then": "sign"}
    answer = browser.post(address("record-edit", clean_draft), sent)
    assert answer.headers["Location"] == address("record-sign", clean_draft)
    assert clean_draft.weather.last().read_at == datetime(2026, 11, 1, 7, 30, tzinfo=UTC)


def test_the_wind_of_another_minute_in_a_repeated_hour_is_asked_about(
    browser_of: Callable[[Any], Client],
    owner: Any,
    clean_draft: Any,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(
        "django.utils.timezone.now", lambda: datetime(2026, 11, 1, 7, 40, 20, tzinfo=UTC)
    )
    ApplicationRecord.objects.filter(pk=clean_draft.pk).update(finished_at=None)
    browser = browser_of(owner)
    sent = as_shown(browser, address("record-wind", clean_draft))
    assert sent["read_at"] == "2026-11-01T01:40"
    sent |= {"read_at": "2026-11-01T01:30", "wind_from": "270", "wind_speed_value": "7"}
    answer = browser.post(address("record-wind", clean_draft), sent)
    assert answer.status_code == 422
    assert "which of the two hours" in answer.content.decode().lower()
    assert clean_draft.weather.count() == 4
    browser.post(address("record-wind", clean_draft), sent | {"hour": "1"})
    assert clean_draft.weather.last().read_at == datetime(2026, 11, 1, 7, 30, tzinfo=UTC)


def test_a_forged_instant_of_the_wind_page_is_no_fault(browser: Client, clean_draft: Any) -> None:
    sent = as_shown(browser, address("record-wind", clean_draft))
    sent |= {"shown_at": "9999-12-31T23:59:59-23:59", "wind_speed_value": "7"}
    assert browser.post(address("record-wind", clean_draft), sent).status_code in (302, 422)
