"""A desk is kept while the record agrees, and made anew after any write, also by raw SQL."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connection

from planner.gateway.offers.desk import SiteDesk, desks, horizon_of
from planner.gateway.record.horizon import Horizon
from sites.models import (
    Absence,
    CareKind,
    Certification,
    Closure,
    OpeningHours,
    Profile,
    ProgrammeVersion,
    Reserve,
    Skill,
)
from sites.services.care import care_fix
from sites.services.times import downtime_add, shift_add
from tests.gateway.offers.conftest import NEXT
from tests.sites.build import DAY, NOW, World

LATER = {"starts_at": NOW + timedelta(days=1), "ends_at": NOW + timedelta(days=1, hours=1)}
TIMES = {"day": NEXT, "minute": 540, "minutes": 60, **LATER}


def desk_of(here: World) -> SiteDesk:
    """The desk of the site from `DAY` on."""
    return desks([here.site], horizon_of(DAY, DAY))[0]


def by_sql(here: World) -> None:
    """Somebody writes past Django."""
    with connection.cursor() as cursor:
        cursor.execute("UPDATE record_openinghours SET opens = 500")


WRITES: dict[str, Callable[[World], object]] = {
    "a booking": lambda here: here.book(here.request("x"), day=NEXT),
    "care": lambda here: care_fix(
        station=here.stations[0],
        kind=CareKind.CLEANING,
        day=NEXT,
        minute=600,
        minutes=30,
        code="c",
        technician=here.technicians[0],
    ),
    "a downtime": lambda here: downtime_add(
        station=here.stations[0], day=NEXT, minute=600, minutes=30, reason="x"
    ),
    "an absence": lambda here: Absence.objects.create(technician=here.technicians[0], **TIMES),
    "a shift": lambda here: shift_add(
        technician=here.technicians[0],
        site=here.site,
        day=DAY + timedelta(days=14),
        minute=480,
        minutes=60,
    ),
    "a closure": lambda here: Closure.objects.create(site=here.site, reason="x", **TIMES),
    "hours": lambda here: OpeningHours.objects.update(closes=900),
    "hours by raw SQL": by_sql,
    "a reserve": lambda here: Reserve.objects.create(site=here.site, day=NEXT, minutes=30),
    "a skill": lambda here: here.technicians[0].skills.add(Skill.objects.create(code="s")),
    "a certificate": lambda here: Certification.objects.create(
        technician=here.technicians[0], kind="k", starts_on=DAY, expires_on=NEXT
    ),
    "a station out of use": lambda here: type(here.stations[0]).objects.update(in_use=False),
    "a kind of session": lambda here: Profile.objects.update(setup_mean=9),
    "a programme": lambda here: ProgrammeVersion.objects.update(wait_risk=0.05),
}


def test_a_desk_is_kept_while_nothing_changes(here: World) -> None:
    first = desk_of(here)
    here.request("waits for a place, and takes no time yet")
    assert desk_of(here) is first


@pytest.mark.parametrize("what", WRITES)
def test_a_desk_is_made_anew_after(here: World, what: str) -> None:
    first = desk_of(here)
    WRITES[what](here)
    second = desk_of(here)
    assert second is not first
    assert desk_of(here) is second


def test_who_comes_next_month_is_answered_by_a_later_desk() -> None:
    assert horizon_of(DAY, DAY) == Horizon(DAY, 28)
    assert horizon_of(DAY, DAY + timedelta(days=13)) == Horizon(DAY, 28)
    assert horizon_of(DAY, DAY + timedelta(days=45)) == Horizon(DAY + timedelta(days=42), 28)
