"""Hard networks are planned with a small effort, and no rule is broken.

The judge is `verify`, which shares no code with the planner; the counts of each network are checked
against what makes it hard (derived).
"""

from __future__ import annotations

from collections import Counter

import pytest

from planner.engine.booking import Options, plan
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.scenario.crew import SKILLS
from planner.engine.units import DAY
from planner.engine.verify import verify
from tests.engine.booking.hard import A_DAY, CARE, HARD, MONTH, STATIONS, THE_DAY, large_site


def planned(network: Network) -> Plan:
    """The plan of a small effort, after every check that holds for any network."""
    found = plan(network, Options(effort=1, seed=1))
    assert verify(network, found, draws=2000, seed=9, care_may_be_unplaced=False) == ()
    assert found.bound <= found.objective
    assert len(found.bookings) + len(found.unbooked) == len(network.requests)
    assert all(item.reasons for item in found.unbooked)
    return found


def test_a_site_of_twenty_stations_books_four_hundred_a_day() -> None:
    network = large_site()
    assert len(network.stations) == STATIONS
    found = planned(network)
    days = Counter(item.start // DAY for item in found.bookings)
    assert max(days.values()) >= A_DAY
    assert len(found.bookings) >= 0.95 * len(network.requests)


def test_a_skill_of_one_person_is_asked_of_nobody_else() -> None:
    network = HARD["one-skilled"](1)
    (holder,) = (item for item in network.technicians if SKILLS[0] in item.skills)
    wanted = {item.id for item in network.requests if SKILLS[0] in item.skills}
    found = planned(network)
    served = [item for item in found.bookings if item.request in wanted]
    assert served
    assert {item.technician for item in served} == {holder.id}
    assert {item.request for item in found.unbooked} & wanted


def test_who_can_come_in_one_hour_only_comes_in_it() -> None:
    network = HARD["one-hour"](1)
    hours = {item.id: item.available for item in network.requests if item.available}
    assert len(hours) >= 0.9 * len(network.requests)
    booked = [item for item in planned(network).bookings if item.request in hours]
    assert len(booked) >= 0.5 * len(hours)
    assert all(
        any(w.start <= item.start and item.start + item.minutes <= w.end
            for w in hours[item.request])
        for item in booked
    )  # fmt: skip


def test_forty_care_tasks_of_one_day_all_find_their_time() -> None:
    network = HARD["all-care-at-once"](1)
    assert len(network.care) == CARE
    found = planned(network)
    assert [item.start // DAY for item in found.care] == [THE_DAY] * CARE


def test_everything_due_on_one_day_fills_the_days_before_and_after() -> None:
    network = HARD["all-due-at-once"](1)
    assert {item.due for item in network.requests} == {THE_DAY}
    days = Counter(item.start // DAY for item in planned(network).bookings)
    assert min(days) < THE_DAY < max(days)


def test_a_closed_month_is_booked_before_and_after() -> None:
    network = HARD["month-closed"](1)
    days = {item.start // DAY for item in planned(network).bookings}
    assert not days & set(MONTH)
    assert min(days) < MONTH.start
    assert max(days) >= MONTH.stop


@pytest.mark.parametrize("name", HARD)
def test_a_hard_network_is_the_same_from_the_same_seed(name: str) -> None:
    assert HARD[name](2) == HARD[name](2)
