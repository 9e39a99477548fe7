"""Care or fixed appointments that exclude each other end the run, and are named."""

from __future__ import annotations

import pytest

from planner.engine.booking import Options, plan
from planner.engine.booking.fixed import check_fixed
from planner.engine.errors import NetworkImpossible
from planner.engine.network import Appointment, Care, Closure, Network, Station, Window
from planner.engine.verify import verify
from tests.engine.booking.build import (
    at,
    network,
    one_desk,
    request,
    rested,
    site,
    technician,
)


def excluded(given: Network) -> list[str]:
    """The faults, as text, of a network that cannot be planned."""
    with pytest.raises(NetworkImpossible) as caught:
        plan(given, Options(effort=1))
    assert caught.value.exit_code == 3
    assert all(fault.remedy for fault in caught.value.faults)
    return [f"{fault.path}: {fault.problem}" for fault in caught.value.faults]


def fixed(name: str, start: int, *, station: str = "desk", person: str = "anna") -> Appointment:
    """A fixed appointment of 20 minutes of the request with the same name."""
    return Appointment(f"a-{name}", name, station, person, start, 20, fixed=True)


R, S = request("r", "m20", "hall"), request("s", "m20", "hall")


def test_two_fixed_appointments_that_collide_are_both_named() -> None:
    given = one_desk((R, S), appointments=(fixed("r", at(10)), fixed("s", at(10, 19))))
    (station, person) = excluded(given)
    assert "a-r" in station
    assert "a-s" in station
    assert "desk" in station
    assert "anna" in person


def test_fixed_appointments_that_touch_are_kept() -> None:
    given = one_desk((R, S), appointments=(fixed("r", at(10)), fixed("s", at(10, 20))))
    found = plan(given, Options(effort=1))
    assert [(b.request, b.start) for b in found.bookings] == [("r", at(10)), ("s", at(10, 20))]
    assert found.bound == pytest.approx(found.objective, abs=1e-4)


ALONE = {
    "the site is not open": one_desk((R,), appointments=(fixed("r", at(16, 45)),)),
    "it is before the release": one_desk(
        (request("r", "m20", "hall", release=1),), appointments=(fixed("r", at(10)),)
    ),
    "the subject is not available": one_desk(
        (request("r", "m20", "hall", available=(Window(at(9), at(10, 10)),)),),
        appointments=(fixed("r", at(10)),),
    ),
    "the station lacks a feature": one_desk(
        (request("r", "m20", "hall", features=("lift",)),), appointments=(fixed("r", at(10)),)
    ),
    "the technician lacks a skill": one_desk(
        (request("r", "m20", "hall", skills=("signing",)),), appointments=(fixed("r", at(10)),)
    ),
    "it is outside the horizon": one_desk((R,), appointments=(fixed("r", at(10, day=1)),)),
    "the station is closed": network(
        (site("hall", (at(9), at(17))),),
        (Station("desk", "hall", (), (Closure(at(10, 10), at(11), "downtime"),)),),
        (technician("anna", ("hall", at(9), at(17))),),
        (R,),
        appointments=(fixed("r", at(10)),),
    ),
    "the technician is not on shift": network(
        (site("hall", (at(9), at(17))),),
        (Station("desk", "hall"),),
        (technician("anna", ("hall", at(9), at(10, 10)), ("hall", at(10, 10), at(17))),),
        (R,),
        appointments=(fixed("r", at(10)),),
    ),
    "it spans two opening times": network(
        (site("hall", (at(9), at(10, 10)), (at(10, 10), at(17))),),
        (Station("desk", "hall"),),
        (technician("anna", ("hall", at(9), at(17))),),
        (R,),
        appointments=(fixed("r", at(10)),),
    ),
}


@pytest.mark.parametrize("why", ALONE)
def test_a_fixed_appointment_that_breaks_a_rule_is_named(why: str) -> None:
    faults = excluded(ALONE[why])
    assert all(fault.startswith("appointments[0]: ") and "a-r" in fault for fault in faults)
    with pytest.raises(NetworkImpossible):
        check_fixed(ALONE[why])


def test_fixed_appointments_that_leave_no_break_name_the_shift() -> None:
    """20 minutes in the middle of a window of 45 leave 12 and 13 for a break of 15."""
    given = network(
        (site("hall", (at(9), at(17))),),
        (Station("desk", "hall"),),
        (technician("anna", rested("hall", at(9), at(17), 15, (at(12), at(12, 45)))),),
        (R,),
        appointments=(fixed("r", at(12, 12)),),
    )
    (fault,) = excluded(given)
    assert fault.startswith("technicians[0].shifts[0]: ")
    assert "anna" in fault


def care(name: str, minutes: int, earliest: int = 0, latest: int = 0, *, helped: bool) -> Care:
    """Care of the station ``desk``."""
    return Care(name, "desk", minutes, earliest, latest, helped)


def test_care_longer_than_the_day_is_named() -> None:
    (fault,) = excluded(one_desk((R,), care=(care("wipe", 481, helped=False),)))
    assert fault.startswith("care[0]: ")
    assert "wipe" in fault


def test_care_of_exactly_the_day_is_placed_and_the_request_is_left_out() -> None:
    given = one_desk((R,), care=(care("wipe", 480, helped=True),))
    found = plan(given, Options(effort=1))
    assert verify(given, found, draws=1000, seed=3, care_may_be_unplaced=False) == ()
    assert [(item.care, item.start, item.technician) for item in found.care] == [
        ("wipe", at(9), "anna")
    ]
    assert [item.reasons[0].code for item in found.unbooked] == ["full"]


def test_two_cares_that_fit_only_one_at_a_time_name_one() -> None:
    faults = excluded(
        one_desk((R,), care=(care("wipe", 300, helped=False), care("align", 300, helped=False)))
    )
    assert len(faults) == 1
    assert faults[0].startswith("care[")


def test_care_beside_a_fixed_appointment_that_splits_the_day_is_named() -> None:
    """20 minutes at noon leave 3 and 4 h 40: no room for 5 hours."""
    (fault,) = excluded(
        one_desk(
            (R,),
            care=(care("wipe", 300, helped=False),),
            appointments=(fixed("r", at(12)),),
        )
    )
    assert "wipe" in fault


def test_care_that_needs_a_technician_on_a_day_without_one_is_named() -> None:
    given = network(
        (site("hall", (at(9), at(17)), (at(9, day=1), at(17, day=1))),),
        (Station("desk", "hall"),),
        (technician("anna", ("hall", at(9), at(17))),),
        (),
        care=(care("wipe", 10, 1, 1, helped=True),),
        days=2,
    )
    (fault,) = excluded(given)
    assert "wipe" in fault


def test_care_that_only_the_exact_model_places_is_placed() -> None:
    """One desk is open 9 to 12 and 13 to 15: 90 + 90 and 120 minutes just fit.

    The 120 must take the second opening time; put first where it fits, the rest does not.
    """
    given = network(
        (site("hall", (at(9), at(12)), (at(13), at(15))),),
        (Station("desk", "hall"),),
        (technician("anna", ("hall", at(9), at(15))),),
        (),
        care=(
            care("long", 120, helped=True),
            *(care(f"short{k}", 90, helped=False) for k in range(2)),
        ),
    )
    found = plan(given, Options(effort=1))
    assert verify(given, found, draws=1000, seed=3, care_may_be_unplaced=False) == ()
    starts = {item.care: item.start for item in found.care}
    assert starts["long"] == at(13)
    assert {starts["short0"], starts["short1"]} == {at(9), at(10, 30)}
