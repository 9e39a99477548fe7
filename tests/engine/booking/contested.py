"""Small contested networks: more is asked for than two sites hold in two days."""

from __future__ import annotations

import random

from planner.engine.network import (
    Care,
    Closure,
    Network,
    Policy,
    Request,
    Shift,
    SiteChoice,
    Station,
)
from tests.engine.booking.build import (
    EXACT,
    at,
    certain_profile,
    network,
    rested,
    site,
    technician,
)


def contested(seed: int, requests: int, *, hours: int = 2, policy: Policy = EXACT) -> Network:
    """Two sites, three stations, three technicians, two days of ``hours`` each, one care.

    Sessions take exactly 15, 20 or 35 minutes. One station in three is accessible, one technician
    in three signs; one of them works at the other site on the second day.
    """
    rng = random.Random(seed)
    spans = [(at(9, day=day), at(9 + hours, day=day)) for day in (0, 1)]
    shifts: dict[str, list[tuple[str, int, int] | Shift]] = {
        "anna": [rested("hall", *span, 10) for span in spans],
        "ben": [("hall", *spans[0]), ("quay", *spans[1])],
        "cleo": [("quay", *span) for span in spans],
    }
    return network(
        (site("hall", *spans), site("quay", *spans)),
        (
            Station("h1", "hall", ("lift",)),
            Station("h2", "hall", (), (Closure(at(9, 40), at(10), "calibration"),)),
            Station("q1", "quay"),
        ),
        tuple(
            technician(name, *when, skills=("signing",) if name == "anna" else ())
            for name, when in shifts.items()
        ),
        tuple(_request(rng, k) for k in range(requests)),
        profiles=tuple(certain_profile(minutes) for minutes in (15, 20, 35)),
        policy=policy,
        days=2,
        care=(Care("wipe", "q1", 15, 0, 1, technician=True),),
    )


def _request(rng: random.Random, k: int) -> Request:
    release = rng.choice([0, 0, -2, 1])
    asked = rng.choice([((), ())] * 4 + [(("lift",), ()), ((), ("signing",))])
    where = rng.choice([("hall",), ("quay",), ("hall", "quay"), ("quay", "hall")])
    return Request(
        id=f"r{k}",
        profile=rng.choice(["m15", "m20", "m35"]),
        release=release,
        due=max(release, rng.choice([0, 1])),
        weight=rng.choice([0.5, 1.0, 2.0]),
        sites=tuple(SiteChoice(name, rng.randrange(0, 60, 5)) for name in where),
        features=asked[0],
        skills=asked[1],
    )
