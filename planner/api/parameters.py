"""Parameters of addresses and queries, as the OpenAPI document names them."""

from __future__ import annotations

from typing import Any

import django_filters
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, OpenApiParameter

from planner.api.pages import LIMIT, MOST, Orders

SLUG = "^[-a-zA-Z0-9_]+$"
PATHS: dict[str, tuple[str, str]] = {
    "site": ("Code of a site", "north"),
    "day": ("Date at the site", "2027-06-07"),
    "station": ("Code of a station", "north-1"),
    "scanner": ("Code of a scanner", "sc-north-1"),
    "technician": ("Code of a technician", "t-1"),
    "programme": ("Code of a programme", "licence"),
    "profile": ("Code of a kind of session", "full"),
    "reference": ("Reference of a request", "r-1001"),
    "appointment": ("Code of an appointment", "a-1001"),
    "intake": ("Code of a list of candidates", "5f3a9c01d2e4"),
    "care": ("Code of a care window", "care-1001"),
    "number": ("Number of a response", "1001"),
    "run": ("Number of a planning run", "17"),
    "notice": ("Number of a notice", "1001"),
    "notice_kind": ("Kind of notice", "booked"),
    "language": ("Language tag; `every`: for every language without its own text", "every"),
    "proposal": ("Number of a proposal", "31"),
    "token": ("Code of a token", "k-1001"),
    "kind": ("Kind of problem", "slot_taken"),
}


NUMBERS = ("number", "run", "notice", "proposal")
"""Parts of addresses that are whole numbers."""


def path_parameter(name: str) -> OpenApiParameter:
    """A part of an address."""
    words, value = PATHS[name]
    schema: dict[str, Any] = {"type": "string", "pattern": SLUG}
    if name == "day":
        schema = {"type": "string", "format": "date"}
    elif name in NUMBERS:
        schema = {"type": "integer", "minimum": 1, "maximum": 2**63 - 1}
    return OpenApiParameter(
        name,
        schema,
        OpenApiParameter.PATH,
        required=True,
        description=words,
        examples=[OpenApiExample("invented", value=value)],
    )


def filter_parameters(filters: Any) -> list[OpenApiParameter]:
    """What a list can be narrowed by."""
    if filters is None:
        return []
    return [of_filter(name, each) for name, each in filters.base_filters.items()]


def of_filter(name: str, one: Any) -> OpenApiParameter:
    """One filter; its ``label`` says what it asks."""
    choices = getattr(one, "words", None)
    schema: dict[str, Any] = {"type": "string"}
    if isinstance(one, django_filters.DateFilter):
        schema["format"] = "date"
    elif choices:
        schema["enum"] = list(choices)
    elif pattern := getattr(one, "pattern", ""):
        schema["pattern"] = pattern
    return OpenApiParameter(name, schema, description=one.label or "")


def page_parameters(orders: Orders) -> list[OpenApiParameter]:
    """Order, length of a page, and where to go on."""
    first = next(iter(orders))
    return [
        OpenApiParameter(
            "order",
            {"type": "string", "enum": list(orders), "default": first},
            description="What the rows are sorted by.",
        ),
        OpenApiParameter(
            "limit",
            {"type": "integer", "minimum": 1, "maximum": MOST, "default": LIMIT},
            description="Rows of a page.",
        ),
        OpenApiParameter(
            "cursor",
            OpenApiTypes.STR,
            description="Where to go on: take `next` of the page before as it is.",
        ),
    ]
