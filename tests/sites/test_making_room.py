"""Downtimes, absences and care say first whom they would move."""

from __future__ import annotations

import pytest

from sites.errors import BadValue, ChangedMeanwhile, SlotTaken
from sites.models import (
    Break,
    CareKind,
    CareOutcome,
    CareWindow,
    Downtime,
    Shift,
    Step,
)
from sites.services.appointments import appointment_move
from sites.services.care import care_close, care_fix, care_place
from sites.services.times import absence_add, break_place, downtime_add, shift_add
from tests.sites.build import DAY, World

pytestmark = pytest.mark.django_db


def down(here: World, *, displace: bool) -> list[str]:
    """Take the first station down from 09:50 to 10:40."""
    _, moved = downtime_add(
        station=here.stations[0],
        day=DAY,
        minute=590,
        minutes=50,
        reason="lamp",
        displace=displace,
        by=here.desk,
    )
    return [row.appointment.request.reference for row in moved]


def test_a_downtime_names_whom_it_would_move_and_moves_them_only_if_told(here: World) -> None:
    booked = here.book(here.request("r-1"), 600)
    beside = here.book(here.request("r-2"), 640)
    with pytest.raises(SlotTaken, match="r-1 on 2026-03-02 at 10:00"):
        down(here, displace=False)
    assert not Downtime.objects.exists()
    assert down(here, displace=True) == ["r-1"]
    booked.refresh_from_db()
    beside.refresh_from_db()
    assert (booked.step, beside.step) == (Step.DISPLACED, Step.BOOKED)
    moved = appointment_move(
        appointment=booked,
        station=here.stations[1],
        technician=here.technicians[1],
        day=DAY,
        minute=600,
        minutes=20,
        why="lamp",
        by=here.desk,
    )
    assert moved.step == Step.BOOKED


def test_an_absence_takes_the_break_of_its_time_with_it(here: World) -> None:
    shift = Shift.objects.filter(technician=here.technicians[0]).get()
    shift.break_minutes, shift.break_from, shift.break_to = 30, 600, 800
    shift.save()
    break_place(shift=shift, day=DAY, minute=660)
    here.book(here.request("r-1"), 690)
    with pytest.raises(SlotTaken, match="taken"):
        here.book(here.request("r-2"), 650)
    _, moved = absence_add(
        technician=here.technicians[0], day=DAY, minute=0, minutes=1440, displace=True, by=here.desk
    )
    assert len(moved) == 1
    assert not Break.objects.exists()
    with pytest.raises(SlotTaken):
        here.book(here.request("r-3"), 900)


def test_a_placed_care_window_loses_its_time_to_a_downtime(here: World) -> None:
    window = CareWindow.objects.create(
        code="c-1", station=here.stations[0], minutes=30, earliest=DAY, latest=DAY
    )
    with pytest.raises(BadValue, match="needs a technician"):
        care_place(window=window, day=DAY, minute=600)
    care_place(window=window, day=DAY, minute=600, technician=here.technicians[0])
    with pytest.raises(SlotTaken):
        here.book(here.request("r-1"), 610, station=here.stations[1])
    down(here, displace=True)
    window.refresh_from_db()
    assert (window.day, window.technician) == (None, None)


def test_care_that_is_done_keeps_its_time_and_missed_care_gives_it_back(here: World) -> None:
    made, _ = care_fix(
        station=here.stations[0],
        kind=CareKind.CLEANING,
        day=DAY,
        minute=600,
        minutes=30,
        code="c-1",
        by=here.desk,
    )
    with pytest.raises(SlotTaken):
        here.book(here.request("r-1"), 600)
    care_close(window=made, outcome=CareOutcome.MISSED, by=here.taker, note="no cloth")
    here.book(here.request("r-2"), 600)
    with pytest.raises(ChangedMeanwhile, match="closed already"):
        care_close(window=made, outcome=CareOutcome.DONE, by=here.taker)
    with pytest.raises(ChangedMeanwhile, match="fixed, closed or moved"):
        care_place(window=made, day=DAY, minute=700, technician=here.technicians[0])


def test_a_shift_with_a_break_has_its_window(here: World) -> None:
    with pytest.raises(BadValue, match="no window"):
        shift_add(
            technician=here.technicians[0],
            site=here.site,
            day=DAY.replace(day=3),
            minute=480,
            minutes=300,
            break_minutes=30,
        )
