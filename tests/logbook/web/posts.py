"""What a browser sends for each kind of the shelf when everything is filled in well."""

from __future__ import annotations

import json
from html.parser import HTMLParser
from types import SimpleNamespace
from typing import Any

from django.test import Client

from tests.factories import L_SHAPE


def answer(name: str, number: str, unit: str, reason: str = "") -> dict[str, str]:
    """Return the inputs of one answer."""
    parts = {f"{name}_value": number, f"{name}_unit": unit}
    return {**parts, f"{name}_reason": reason} if reason else parts


def rows(name: str, *items: dict[str, Any], standing: int = 0) -> dict[str, Any]:
    """Return the inputs of a list of rows, of which the first `standing` are saved already."""
    found: dict[str, Any] = {
        f"{name}-TOTAL_FORMS": str(len(items)),
        f"{name}-INITIAL_FORMS": str(standing),
    }
    for place, item in enumerate(items):
        found |= {f"{name}-{place}-{column}": value for column, value in item.items()}
    return found


class _Inputs(HTMLParser):
    """Collects what a browser would send of the page's own form, which is the one with a token."""

    def __init__(self) -> None:
        super().__init__()
        self.sent: dict[str, Any] = {}
        self._select = self._textarea = ""

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        given = dict(attrs)
        name = given.get("name") or ""
        if tag == "input" and given.get("type") in ("checkbox", "radio"):
            if "checked" in given:
                self.sent.setdefault(name, []).append(given.get("value", "on"))
        elif tag == "input" and name and given.get("type") != "file":
            self.sent[name] = given.get("value") or ""
        elif tag == "select":
            self._select, self.sent[name] = name, ""
        elif tag == "option" and self._select and "selected" in given:
            self.sent[self._select] = given.get("value", "")
        elif tag == "textarea":
            self._textarea, self.sent[name] = name, ""

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self._select = ""
        elif tag == "textarea":
            self._textarea = ""

    def handle_data(self, data: str) -> None:
        if self._textarea:
            self.sent[self._textarea] += data.removeprefix("\n")


def as_shown(client: Client, address: str) -> dict[str, Any]:
    """Return what a browser sends when the form at `address` is saved as it is shown."""
    return sent_by(client.get(address).content.decode())


def sent_by(page: str) -> dict[str, Any]:
    """Return what a browser sends when the form of a page is saved as it is shown."""
    inputs = _Inputs()
    inputs.feed(page)
    return inputs.sent


def good_post(kind: str, yard: SimpleNamespace) -> dict[str, Any]:
    """Return a complete entry for a new row of `kind` that refers to rows of the yard."""
    return {
        "places": {
            "name": "Mill pond",
            "kind": "water",
            "shape": "47.102, -97.185",
            **answer("keep_off", "100", "ft"),
            "note": "",
        },
        "customers": {"name": "Alder Farm", "address": "Section road 9", "phone": "", "email": ""},
        "fields": {
            "customer": yard.customer.pk,
            "name": "South bench",
            "place": "US-ND",
            "time_zone": "America/Chicago",
            "boundary": json.dumps(L_SHAPE),
            **answer("planted_size", "120", "ac"),
            **rows("locations", {"kind": "parcel", "text": "12-44-0071"}),
            **rows("plantings", {"season": "2026", "crop": "soybean", "eppo_code": "GLXMA"}),
        },
        "products": {"name": "Rustkill", "kind": "fungicide", "registration_number": "TEST-7"},
        "labels": {
            "product": yard.product.pk,
            "edition": "2026-02",
            "in_force_from": "2026-02-01",
            "supervised_use_allowed": "true",
            **answer("rate_min", "16", "fl oz/ac"),
            **answer("rate_max", "32", "fl oz/ac"),
            **answer("carrier_min", "10", "gal/ac"),
            "finest_class": "M",
            "forbidden_adjuvants": ["crop oil concentrate", "defoamer"],
            **rows("ingredients", {"name": "inventium", **answer("content", "3.8", "lb/gal")}),
            "duty_classes": ["auxin herbicide"],
            "training": "yearly training of the maker",
            "keep_years": "2",
            **rows("asks", {"element": "buffer", "when": "always", "detail": "downwind buffer"}),
            **rows(
                "deadlines", {"kind": "record", "clock": "hours", "count": "72", "since": "end"}
            ),
        },
        "nozzles": {
            "name": "AI 11004",
            "kind": "air-induction flat fan",
            **answer("rated_flow", "0.40", "gal/min"),
            **answer("rated_pressure", "40", "psi"),
            **answer("pressure_min", "30", "psi"),
            **answer("pressure_max", "100", "psi"),
            "exponent": "0.5",
            "flow_accuracy_percent": "5",
            **rows(
                "class_rows",
                {**answer("pressure", "40", "psi"), "droplet_class": "XC"},
                {**answer("pressure", "60", "psi"), "droplet_class": "VC"},
            ),
        },
        "rigs": {
            "name": "Rig 2",
            **answer("tank", "1000", "gal"),
            **answer("spacing", "20", "in"),
            "nozzle_count": "48",
            **answer("gauge_accuracy", "1", "psi"),
            **answer("speed_accuracy", "1", "%"),
            "spacing_accuracy_percent": "1",
            "tank_accuracy_percent": "3",
            **answer("line_loss", "", "not measured", "no second gauge"),
        },
        "nozzle-sets": {
            "rig": yard.rig.pk,
            "nozzle": yard.nozzle.pk,
            "mounted_on": "2026-06-01",
        },
        "catch-tests": {
            "nozzle_set": yard.nozzle_set.pk,
            "tested_on": "2026-06-02",
            "tested_by": "R. Holm",
            **answer("pressure", "40", "psi"),
            **answer("time", "60", "s"),
            "volume_unit": "mL",
            "volumes": "1510, 1514, 1520",
            "accuracy_percent": "2",
        },
        "people": {
            "name": "B. Lind",
            **rows(
                "licences",
                {
                    "number": "C-1",
                    "authority": "State agriculture department",
                    "place": "US-ND",
                    "categories": "agricultural",
                    "certified": "true",
                    "valid_from": "2026-01-01",
                    "expires_on": "2028-12-31",
                },
            ),
            **rows(
                "trainings",
                {"trained_on": "2026-03-01", "trainer": "R. Holm", "content": "drift"},
            ),
        },
    }[kind]
