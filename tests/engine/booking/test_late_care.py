"""Care that bookings make late: somebody gives way, though the late technician serves nobody."""

from __future__ import annotations

from planner.engine.booking import Options, plan
from planner.engine.network import Appointment, Care, Policy, Station
from planner.engine.verify import verify
from tests.engine.booking.build import (
    COST,
    FULL,
    at,
    certain_profile,
    network,
    request,
    site,
    technician,
)

HURRIED = Policy(60, 1.0, 0, 0.05, COST)
"""Nobody minds waiting; hardly anything may end after its shift."""


def test_bookings_give_way_to_a_technician_who_comes_for_care_alone() -> None:
    """Bob is there for the care and no longer; a session that begins at nine may run into it.

    Anna is free from nine till 9:22 only, too short for the care. A session of the profile ends
    after its planned 22 minutes more often than the one time in twenty that is promised.
    """
    given = network(
        (site("hall", (at(9), at(11))),),
        (Station("desk", "hall"), Station("other", "hall")),
        (
            technician("anna", ("hall", at(9), at(11))),
            technician("bob", ("hall", at(9, 22), at(9, 47))),
        ),
        (
            request("taken", "m80", "hall"),
            *(request(f"r{k}", "full", "hall") for k in range(3)),
        ),
        profiles=(FULL, certain_profile(80)),
        policy=HURRIED,
        care=(Care("clean", "desk", 25, 0, 0, True),),
        appointments=(Appointment("f", "taken", "other", "anna", at(9, 22), 80, True),),
    )
    found = plan(given, Options(effort=2))
    assert verify(given, found, draws=20_000, seed=4, care_may_be_unplaced=False) == ()
    assert [(item.care, item.technician) for item in found.care] == [("clean", "bob")]
