"""When scanner care falls due, by days and by captures."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from pytest_django import DjangoAssertNumQueries

from sites.models import CareKind, CareOutcome, CareRule, Scanner
from sites.models.codes import FingerPosition, ImpressionType
from sites.selectors.care import CareDue, care_due
from sites.services.care import care_close, care_fix
from sites.services.sessions import attempt_record
from tests.sites.build import DAY, NOW, World

pytestmark = pytest.mark.django_db


def due(here: World, today: date = DAY) -> list[CareDue]:
    """What is asked for on a day."""
    return care_due(stations=here.stations, today=today)


def rule(**values: object) -> CareRule:
    """A rule for cleaning the first scanner."""
    fields = {"kind": "cleaning", "minutes": 10, "scanner": Scanner.objects.get(code="sc-st-1")}
    return CareRule.objects.create(**{**fields, **values})


def test_days_count_from_the_placement_and_then_from_the_last_time(here: World) -> None:
    rule(every_days=7, grace_days=2)
    (row,) = due(here)
    assert (row.station, row.last) == (here.stations[0], None)
    assert (row.due, row.late) == (date(2026, 3, 9), date(2026, 3, 11))
    window, _ = care_fix(
        station=here.stations[0],
        kind=CareKind.CLEANING,
        day=DAY,
        minute=500,
        minutes=10,
        code="c-1",
        by=here.desk,
    )
    done = NOW + timedelta(days=3)
    care_close(window=window, outcome=CareOutcome.DONE, by=here.taker, at=done)
    (row,) = due(here)
    assert (row.last, row.due) == (date(2026, 3, 5), date(2026, 3, 12))


def test_missed_care_does_not_count(here: World) -> None:
    rule(every_days=7)
    window, _ = care_fix(
        station=here.stations[0],
        kind=CareKind.CLEANING,
        day=DAY,
        minute=500,
        minutes=10,
        code="c-1",
        by=here.desk,
    )
    care_close(window=window, outcome=CareOutcome.MISSED, by=here.taker, at=NOW)
    assert due(here)[0].last is None


def test_captures_make_it_due_before_the_days_do(here: World) -> None:
    rule(every_days=30, every_captures=2)
    session = here.session(here.request("r-1"))
    what = {"session": session, "impression": ImpressionType.LIVE_ROLLED}
    attempt_record(position=FingerPosition.RIGHT_INDEX, **what)
    attempt_record(position=FingerPosition.RIGHT_INDEX, **what)  # a retake is no further capture
    assert (due(here)[0].captures, due(here)[0].due) == (1, DAY + timedelta(days=30))
    attempt_record(position=FingerPosition.RIGHT_RING, **what)
    assert (due(here)[0].captures, due(here)[0].due) == (2, DAY)


def test_two_queries_however_many(
    here: World, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for kind in CareKind:
        rule(kind=kind, every_days=3)
    with django_assert_num_queries(2):
        assert len(due(here)) == 3
