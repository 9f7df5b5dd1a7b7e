"""Computations that keep nothing: which nozzle for a label, and many settings judged at once."""

from __future__ import annotations

from typing import Any, ClassVar

from drf_spectacular.utils import OpenApiExample, extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from logbook.accounts.rights import Right
from logbook.api.parsers import ManyRowsParser
from logbook.api.schema import array_of
from logbook.api.serializers.planning import NozzleChoiceSerializer, NozzleWishSerializer
from logbook.api.throttles import RateChecks
from logbook.api.viewbase import Door, PublicDoor
from logbook.catalog.choice import Wish, choose_on_shelf
from logbook.checks.ratecheck import COLUMNS, MAX_ROWS, OUTCOME_WORDS, Column, check_rates


class NozzleChoice(Door):
    """Which nozzles of the shelf meet a label on a rig, the one with the most room first, and why
    the others do not. Nothing is kept. The label outranks every suggestion.
    """

    says: ClassVar = {"POST": "Choose a nozzle"}
    right_to_write = Right.SEE
    serializer_class = NozzleWishSerializer
    stateless = True

    @extend_schema(responses=NozzleChoiceSerializer)
    def post(self, request: Request) -> Response:
        wish = self.read().validated_data
        density = wish.pop("density")
        gravity = 1.0 if density is None else density.to("SG")
        found = choose_on_shelf(
            business=self.actor.business, wish=Wish(**wish, specific_gravity=gravity)
        )
        return Response(NozzleChoiceSerializer(found, context={"nozzles": found.nozzles}).data)


def _cell(column: Column) -> dict[str, Any]:
    silent = ""
    if column.usual is not None:
        silent = f" Where it is not given: {column.usual:.10g} {column.unit}."
    units = list(column.units)
    number = {"type": "number", "minimum": column.low, "maximum": column.high}
    return {
        "description": f"{column.means[:1].upper()}{column.means[1:]}. A plain number is in "
        f"{column.unit}; {column.bound}.{silent}",
        "anyOf": [
            number,
            {
                "type": "object",
                "required": ["value", "unit"],
                "properties": {
                    "value": {"type": ["number", "string"]},
                    "unit": {"type": "string", "enum": units},
                },
                "additionalProperties": False,
            },
            {"type": "string", "description": f'As text, such as "12.5 {units[0]}".'},
            {"type": "null"},
        ],
    }


_SETTING: dict[str, Any] = {
    "type": "object",
    "title": "one setting",
    "required": [column.name for column in COLUMNS.values() if column.needed],
    "properties": {name: _cell(column) for name, column in COLUMNS.items()},
    "additionalProperties": False,
}
_UNIT = {
    "type": "string",
    "enum": list(COLUMNS["planned"].units),
    "default": "L/ha",
    "description": "Of the rates that come back.",
}
_BODY = {
    "oneOf": [
        {**_SETTING, "properties": {**_SETTING["properties"], "unit": _UNIT}},
        {
            "type": "object",
            "title": "many settings",
            "required": ["settings"],
            "properties": {"settings": array_of(_SETTING, at_most=MAX_ROWS), "unit": _UNIT},
            "additionalProperties": False,
        },
    ]
}
_OUTCOME = {"type": ["string", "null"], "enum": [*OUTCOME_WORDS, None]}
_MAYBE = {"type": ["number", "null"]}
_RESULT = {
    "delivered": {"type": "number", "description": "Carrier rate, in “unit”."},
    "expanded": {"type": "number", "description": "Expanded uncertainty U, k = 2, in “unit”."},
    "relative_u_percent": {"type": "number", "description": "Relative standard uncertainty."},
    "nozzle_flow_l_min": {"type": "number", "description": "Of the mix."},
    "nozzle_pressure_kpa": {**_MAYBE, "description": "null if no pressure was given."},
    "label": {**_OUTCOME, "description": "Against label_min and label_max; null without them."},
    "at_limit": {
        "type": ["string", "null"],
        "enum": ["low", "high", None],
        "description": "The limit that the rate passes or reaches within its uncertainty.",
    },
    "beyond_percent": {**_MAYBE, "description": "Beyond that limit; negative inside it."},
    "planned": {**_OUTCOME, "description": "Against the planned rate; null without one."},
    "look_again": {
        "type": ["boolean", "null"],
        "description": "Off the plan by more than look_again_percent, surely.",
    },
    "deviation_percent": {**_MAYBE, "description": "From the planned rate."},
}
_TEXT = {"type": "string"}
_ANSWER = {
    "type": "object",
    "required": ["unit", "coverage_factor", "tolerance", "assumed", "caution", "results"],
    "properties": {
        "unit": _TEXT,
        "coverage_factor": {"type": "number"},
        "tolerance": {
            "type": "object",
            "properties": {
                "look_again_percent": {"type": "number"},
                "disagree_percent": {"type": "number"},
                "basis": _TEXT,
            },
        },
        "label_basis": _TEXT,
        "formula": _TEXT,
        "uncertainty_basis": _TEXT,
        "assumed": {
            "type": "object",
            "additionalProperties": _TEXT,
            "description": "The usual values that stood in where a setting was silent.",
        },
        "questions": {
            "type": "object",
            "additionalProperties": _TEXT,
            "description": "By the path of a setting, what is asked about a number outside its "
            "usual range; at most 100. It is taken as given.",
        },
        "caution": _TEXT,
        "results": {
            "type": "array",
            "items": {"type": "object", "required": list(_RESULT), "properties": _RESULT},
            "description": "One for each setting, in the order they came.",
        },
    },
}


class RateCheck(PublicDoor):
    """What a rig, as set, delivers, how sure that is, and how it stands to the label and the plan.
    Open to everybody; nothing is kept. One setting, or up to 10,000 in “settings”.
    """

    says: ClassVar = {"POST": "Check delivered rates"}
    parser_classes = (ManyRowsParser,)
    throttle_classes = (RateChecks,)

    @extend_schema(
        request={"application/json": _BODY},
        responses={200: _ANSWER},
        examples=[
            OpenApiExample(
                "a boom of 12 m",
                {"known_flow": 24, "speed": "12 km/h", "spacing": "12 m", "label_max": 120},
                request_only=True,
            ),
            OpenApiExample(
                "two settings",
                {
                    "unit": "gal/ac",
                    "settings": [
                        {
                            "known_flow": "0.40 gal/min",
                            "known_pressure": "40 psi",
                            "pressure": "30 psi",
                            "speed": {"value": "8.0", "unit": "mph"},
                            "spacing": "20 in",
                            "planned": "15 gal/ac",
                        },
                        {"known_flow": 1.5, "speed": 10, "spacing": 50, "planned": 180},
                    ],
                },
                request_only=True,
            ),
        ],
    )
    def post(self, request: Request) -> Response:
        return Response(check_rates(request.data).as_json())
