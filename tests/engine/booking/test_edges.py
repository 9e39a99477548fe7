"""Odd networks are planned, and every reason for leaving a request out has a case of its own."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.engine.booking import Options, plan
from planner.engine.booking.reasons import MEANING
from planner.engine.network import Network, Request, Reserve, Site, Station, Window
from planner.engine.plan import Plan
from planner.engine.verify import verify
from tests.engine.booking.build import (
    at,
    certain_profile,
    network,
    one_desk,
    request,
    site,
    technician,
)

LIFT = Station("desk", "hall", ("lift",))
ANNA = technician("anna", ("hall", at(9), at(17)), skills=("signing",))
HALL = site("hall", (at(9), at(17)))


def sound(given: Network, **further: int) -> Plan:
    """The plan of a network, checked by the judge apart from the run's own check."""
    found = plan(given, Options(effort=1, **further))
    assert verify(given, found, draws=1000, seed=5, care_may_be_unplaced=False) == ()
    return found


def codes(found: Plan) -> dict[str, list[str]]:
    """Reason codes by request."""
    return {item.request: [reason.code for reason in item.reasons] for item in found.unbooked}


def one(wanted: Request, *, hall: Site = HALL) -> Network:
    """One request beside one station with a lift and one technician who signs."""
    return network((hall, site("annex")), (LIFT,), (ANNA,), (wanted,))


CASES = {
    "no-site": one(request("r", "m20")),
    "released-after-horizon": one(request("r", "m20", "hall", release=1)),
    "nobody-able": one(request("r", "m20", "hall", skills=("juggling",))),
    "never-open": one(
        request("r", "m20", "hall", available=(Window(at(9), at(9, 19)), Window(at(17), at(18))))
    ),
    "costs-more-than-waiting": one(request("r", "m20", "hall", release=-9, unbooked=0.5)),
    "full": one_desk((request("r", "m20", "hall"), request("s", "m20", "hall", weight=2.0)),
                     at(9), at(9, 30)),
    "held-by-reserve": one_desk((request("r", "m20", "hall"),),
                                reserve=(Reserve("hall", 0, 8 * 60 - 19),)),
}  # fmt: skip


@pytest.mark.parametrize("code", CASES)
def test_a_request_left_out_says_why(code: str) -> None:
    found = sound(CASES[code])
    assert codes(found) == {"r": [code]}
    (reason,) = found.unbooked[0].reasons
    assert reason.detail
    assert reason.remedy


def test_every_code_has_its_case() -> None:
    assert set(CASES) == set(MEANING)


def test_a_station_without_the_feature_is_nobody_able() -> None:
    found = sound(one(request("r", "m20", "hall", features=("lift", "quiet"))))
    assert codes(found) == {"r": ["nobody-able"]}
    assert "quiet" in found.unbooked[0].reasons[0].detail


def test_a_site_that_never_opens_is_never_open() -> None:
    found = sound(one(request("r", "m20", "annex")))
    assert codes(found) == {"r": ["never-open"]}


def test_an_opening_time_too_short_for_the_session_is_never_open() -> None:
    """Two intervals that touch are still two, so that 2 x 15 minutes hold no 20."""
    halves = site("hall", (at(9), at(9, 15)), (at(9, 15), at(9, 30)))
    found = sound(one(request("r", "m20", "hall"), hall=halves))
    assert codes(found) == {"r": ["never-open"]}


def test_a_request_asks_for_what_two_people_have_only_together() -> None:
    """The skills asked for must be one technician's."""
    given = network(
        (HALL,),
        (LIFT,),
        (
            technician("anna", ("hall", at(9), at(17)), skills=("signing",)),
            technician("ben", ("hall", at(9), at(17)), skills=("patient",)),
        ),
        (
            request("r", "m20", "hall", skills=("signing", "patient")),
            request("s", "m20", "hall", skills=("signing",)),
        ),
    )
    assert codes(sound(given)) == {"r": ["nobody-able"]}


def test_a_profile_s_skill_counts_as_the_request_s() -> None:
    given = network(
        (HALL,), (LIFT,), (ANNA,), (request("r", "m20", "hall"),),
        profiles=(certain_profile(20, ("patient",)),),
    )  # fmt: skip
    assert codes(sound(given)) == {"r": ["nobody-able"]}


def test_nothing_asked_gives_an_empty_plan() -> None:
    found = sound(one_desk(()))
    assert (found.bookings, found.unbooked, found.objective) == ((), (), 0.0)
    assert (found.bound, found.gap) == (0.0, None)


def test_a_network_without_anything_is_planned() -> None:
    found = sound(network((), (), (), (request("r", "m20"),)))
    assert codes(found) == {"r": ["no-site"]}
    assert found.objective == 30.0
    assert found.bound == pytest.approx(30.0, rel=1e-6)


def test_a_site_without_stations_serves_nobody() -> None:
    given = network((HALL,), (), (ANNA,), (request("r", "m20", "hall"),))
    assert codes(sound(given)) == {"r": ["nobody-able"]}


def test_a_day_without_technicians_is_passed_over() -> None:
    """Nobody is on shift on Monday, so that both wait for Tuesday."""
    given = network(
        (site("hall", (at(9), at(17)), (at(9, day=1), at(17, day=1))),),
        (LIFT,),
        (technician("anna", ("hall", at(9, day=1), at(17, day=1))),),
        (request("r", "m20", "hall"), request("s", "m20", "hall")),
        days=2,
    )
    found = sound(given)
    assert [booking.start // 1440 for booking in found.bookings] == [1, 1]
    assert found.objective == pytest.approx(0.2)


def test_a_network_of_one_station_fills_it_to_the_minute() -> None:
    """24 sessions of 20 minutes fill 8 hours exactly; a 25th finds it full."""
    wanted = tuple(request(f"r{k}", "m20", "hall") for k in range(25))
    found = sound(one_desk(wanted))
    assert len(found.bookings) == 24
    assert [item[0] for item in codes(found).values()] == ["full"]
    assert found.objective == pytest.approx(30.0)


def test_only_rework_may_use_the_reserve() -> None:
    """All but 19 minutes are held: the returned request is booked, the other is not."""
    given = CASES["held-by-reserve"]
    back = replace(given.requests[0], id="back", rework=True)
    found = sound(replace(given, requests=(*given.requests, back)))
    assert [booking.request for booking in found.bookings] == ["back"]
    assert codes(found) == {"r": ["held-by-reserve"]}
