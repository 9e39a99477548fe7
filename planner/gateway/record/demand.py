"""Requests that still need a session, what they ask for, and what is booked for them."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import F, QuerySet

from planner.gateway.record.horizon import Horizon
from sites.models import (
    ACTIVE,
    Appointment,
    HomeArea,
    Request,
    RequestSite,
    RequestTime,
    Step,
    TravelTime,
)
from sites.selectors.standing import Standing, requests_standing

TO_SERVE = (
    Standing.TO_BOOK,
    Standing.DISPLACED,
    Standing.BOOKED,
    Standing.ARRIVED,
    Standing.UNDERWAY,
)
UNDER_WAY = (Step.ARRIVED, Step.UNDERWAY)
Choice = tuple[int, int, int | None]
"""Site, travel in minutes, profile there."""


@dataclass(slots=True)
class Wanted:
    """One request as the record has it, by keys."""

    pk: int
    reference: str
    terms: int
    profile: int
    subject: int
    area: int | None
    release: date
    due: date
    expires: date | None
    priority: float
    cost: float | None
    rework: bool
    sites: list[Choice] = field(default_factory=list)
    times: list[tuple[date, int, int]] = field(default_factory=list)
    features: list[str] = field(default_factory=list)
    skills: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Demand:
    """Requests by key, active appointments by request, and how far areas are from sites."""

    requests: dict[int, Wanted]
    appointments: dict[int, Appointment]
    areas: dict[int, HomeArea]
    given: dict[tuple[int, int], int]


def find_demand(horizon: Horizon) -> Demand:
    """All requests to serve, in as many queries for ten as for ten thousand."""
    requests = requests_standing(today=horizon.first_day, requests=Request.objects.all())
    return demand_of(requests.filter(standing__in=TO_SERVE))


def demand_of(asked: QuerySet[Any, Any]) -> Demand:
    """These requests with what they ask for and the appointments that are not over."""
    keys = asked.order_by().values("pk")
    rows = asked.order_by("reference").values_list(
        "pk",
        "reference",
        "terms_id",
        "profile_id",
        "subject_id",
        "subject__home_area_id",
        "release",
        "due",
        "expires",
        "priority",
        "cost_unbooked",
        "rework",
    )
    requests = {row[0]: Wanted(*row) for row in rows.iterator(5000)}
    booked = Appointment.objects.filter(request__in=keys, step__in=ACTIVE)
    appointments = {row.request_id: row for row in booked}
    _details(requests, keys)
    areas = {row.pk: row for row in HomeArea.objects.all()}
    travel = TravelTime.objects.values_list("area_id", "site_id", "minutes")
    return Demand(requests, appointments, areas, {(area, site): m for area, site, m in travel})


def _details(requests: dict[int, Wanted], keys: QuerySet[Any, Any]) -> None:
    """Fill in sites, times and words, one query each."""
    places = RequestSite.objects.filter(request__in=keys).order_by("request_id", "id")
    for key, *place in places.values_list("request_id", "site_id", "travel", "profile_id"):
        if key in requests:
            site, travel, profile = place
            requests[key].sites.append((site, travel, profile))
    times = RequestTime.objects.filter(request__in=keys).order_by("request_id", "day", "minute")
    for key, day, minute, minutes in times.values_list("request_id", "day", "minute", "minutes"):
        if key in requests:
            requests[key].times.append((day, minute, minutes))
    for name in ("features", "skills"):
        for key, word in _words(name, keys).items():
            if key in requests:
                setattr(requests[key], name, sorted(word))


def _words(name: str, keys: QuerySet[Any, Any]) -> dict[int, list[str]]:
    """Codes of features or skills by the key of the request."""
    through = getattr(Request, name).through
    word = f"{name[:-1]}__code"
    found: dict[int, list[str]] = defaultdict(list)
    rows = through.objects.filter(request__in=keys).annotate(key=F("request_id"), code=F(word))
    for key, code in rows.values_list("key", "code"):
        found[key].append(code)
    return found
