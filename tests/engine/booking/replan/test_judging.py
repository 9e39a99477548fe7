"""The promises as a re-plan sees them, against the plain rule of the day.

The plain rule (`planner.engine.sessions.waits`) draws on its own: estimates of the same probability
from n and m draws differ by less than 4 standard errors.
"""

from __future__ import annotations

import random

import pytest

from planner.engine.booking.replan.dayrun import DayRun
from planner.engine.booking.replan.judge import Hours, Judge
from planner.engine.network import Network, Station
from planner.engine.plan import Booking, Break, CarePlaced
from planner.engine.sessions.things import Thing, plan_things
from planner.engine.sessions.waits import assess
from planner.engine.units import told
from tests.engine.booking.build import FULL, USUAL, at, network, request, site, technician

DRAWS = 2000
PLAIN = 8000


def _network() -> Network:
    hours = (at(9), at(13))
    return network(
        (site("hall", hours),),
        (Station("d0", "hall"), Station("d1", "hall")),
        (technician("t0", ("hall", *hours)), technician("t1", ("hall", *hours))),
        tuple(request(f"r{k}", "full", "hall") for k in range(24)),
        profiles=(FULL,),
        policy=USUAL,
    )


def _day(rng: random.Random) -> tuple[list[Booking], list[Break]]:
    """Rows of sessions 15 to 22 minutes apart on both stations; technicians change over."""
    bookings = []
    for station in (0, 1):
        start = at(9) + rng.randrange(10)
        for k in range(8):
            person = f"t{station if k < 4 else 1 - station}"
            bookings.append(
                Booking(f"r{station * 12 + k}", "hall", f"d{station}", person, start,
                        told(start, 5), 18, 0.0)
            )  # fmt: skip
            start += rng.choice((15, 18, 18, 22))
    return bookings, [Break("t0", at(11, 59), 15), Break("t1", at(12, 3), 15)]


def _judge(given: Network) -> Judge:
    numbers = {item.id: k for k, item in enumerate(given.requests)}
    return Judge(given, numbers, draws=DRAWS, seed=5)


def _near(one: float, other: float) -> bool:
    """Within 4 standard errors of the difference of two estimates."""
    middle = (one + other) / 2
    error: float = (middle * (1 - middle) * (1 / DRAWS + 1 / PLAIN)) ** 0.5
    return abs(one - other) <= 4 * error + 2 / DRAWS


@pytest.mark.parametrize("seed", range(4))
def test_risks_are_those_of_the_plain_rule_of_the_day(seed: int) -> None:
    given = _network()
    bookings, breaks = _day(random.Random(seed))
    care: list[CarePlaced] = []
    found = _judge(given).risks(plan_things(given, bookings, care, breaks), Hours(given))
    plain = assess(given, bookings, care, breaks, draws_n=PLAIN, seed=1, purpose="a test")
    assert found.waits.keys() == plain.p_wait.keys()
    assert all(_near(risk, plain.p_wait[name]) for name, risk in found.waits.items())
    assert max(found.waits.values()) > 0.02
    for (kind, place, _, _), risk in found.ends.items():
        same = plain.station_overtime if kind == "station" else plain.shift_overtime
        name = f"{'d' if kind == 'station' else 't'}{place}"
        assert _near(risk, same[name, 0])


@pytest.mark.parametrize("seed", range(20))
def test_one_thing_more_risks_what_the_whole_day_with_it_risks(seed: int) -> None:
    given, rng = _network(), random.Random(seed)
    bookings, breaks = _day(rng)
    judge, hours = _judge(given), Hours(given)
    things = plan_things(given, bookings, [], breaks)
    station, start = rng.randrange(2), at(9) + rng.randrange(200)
    new = Thing(start, told(start, 5), station, rng.randrange(2), 0, "r23", "full")
    before, after = judge.risks(things, hours), judge.risks([*things, new], hours)
    found = DayRun(judge, hours, 0, things).with_one_more(new)
    assert "r23" in found.waits
    for name, risk in after.waits.items():
        assert found.waits.get(name, before.waits.get(name)) == risk
    for end, risk in after.ends.items():
        assert found.ends.get(end, before.ends.get(end)) == risk


def test_the_first_who_waits_too_long_is_enough() -> None:
    cut = 0
    for seed in range(20):
        given, rng = _network(), random.Random(seed)
        bookings, breaks = _day(rng)
        things = plan_things(given, bookings, [], breaks)
        run = DayRun(_judge(given), Hours(given), 0, things)
        station, start = rng.randrange(2), at(9) + rng.randrange(200)
        new = Thing(start, told(start, 5), station, rng.randrange(2), 0, "r23", "full")
        whole = run.with_one_more(new)
        found = run.with_one_more(new, lambda _, risk: risk > 0.1)
        late = [name for name, risk in whole.waits.items() if risk > 0.1]
        assert [name for name, risk in found.waits.items() if risk > 0.1] == late[:1]
        assert found.waits.items() <= whole.waits.items()
        cut += len(found.waits) < len(whole.waits)
        assert late or found == whole
    assert cut > 3


def test_a_booking_that_nothing_reaches_keeps_its_estimate_to_the_last_digit() -> None:
    given = _network()
    bookings, breaks = _day(random.Random(0))
    judge, hours = _judge(given), Hours(given)
    alone = [item for item in bookings if item.station == "d0"][:4]
    other = [item for item in bookings if item.station == "d1"][:4]
    first = judge.risks(plan_things(given, alone, [], []), hours)
    both = judge.risks(plan_things(given, alone + other, [], breaks), hours)
    assert all(both.waits[name] == risk for name, risk in first.waits.items())
