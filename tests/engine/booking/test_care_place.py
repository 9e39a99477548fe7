"""Where care stands on a day, and what the list schedule does around it. Expectations by hand."""

from __future__ import annotations

from planner.engine.booking import Options, plan
from planner.engine.booking.problem import build_problem
from planner.engine.booking.timetable.carefit import fit_care
from planner.engine.network import Care, Closure, Network, Station
from planner.engine.plan import Plan
from planner.engine.verify import verify
from tests.engine.booking.build import at, network, request, rested, site, technician

LENGTHS = {"m20": 20}


def desk(people: int, care: Care, *, until: int = at(14), closed: bool = False) -> Network:
    """One station from nine, one technician with a break of 20 minutes from eleven to one."""
    shut = (Closure(at(9), at(9, 20), "maintenance"),) if closed else ()
    return network(
        (site("hall", (at(9), until)),),
        (Station("desk", "hall", closed=shut),),
        (technician("anna", rested("hall", at(9), at(14), 20, (at(11), at(13)))),),
        tuple(request(f"r{k:02}", "m20", "hall") for k in range(people)),
        care=(care,),
    )


def fitted(given: Network) -> int:
    problem = build_problem(given, LENGTHS)
    siteday = problem.sitedays[0]
    block = fit_care(problem, siteday, 0, list(siteday.fixed))
    assert block is not None
    return block.start


def planned(given: Network) -> Plan:
    found = plan(given, Options(effort=2))
    assert verify(given, found, draws=1000, seed=1, care_may_be_unplaced=False) == ()
    return found


def test_care_without_a_technician_goes_where_somebody_has_their_break() -> None:
    given = desk(30, Care("clean", "desk", 20, 0, 0, False))
    assert at(11) <= fitted(given) <= at(12, 40)


def test_care_without_a_technician_goes_after_the_shift_where_the_site_is_open_longer() -> None:
    given = desk(30, Care("clean", "desk", 60, 0, 0, False), until=at(16))
    assert fitted(given) == at(14)


def test_care_with_a_technician_goes_first() -> None:
    given = desk(30, Care("clean", "desk", 20, 0, 0, True))
    assert fitted(given) == at(9)


def test_care_in_the_break_costs_nobody_their_place() -> None:
    """Five hours less the break are 14 sessions of 20 minutes; care of 20 takes none of them."""
    found = planned(desk(30, Care("clean", "desk", 20, 0, 0, False)))
    assert len(found.bookings) == 14
    assert found.care[0].start == found.breaks[0].start


def test_a_technician_goes_on_after_care_that_stood_in_the_way() -> None:
    """Closed till 9:20, then care of 100 minutes: the only station is free from eleven.

    180 minutes less what is left of the break, none where it is taken at eleven or later: with
    the break in them they hold 8 sessions.
    """
    found = planned(desk(30, Care("clean", "desk", 100, 0, 0, False), closed=True))
    assert len(found.bookings) >= 8
