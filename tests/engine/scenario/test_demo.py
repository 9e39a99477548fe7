"""The demo is what its description says."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from planner.engine.scenario.demo import demo_network
from planner.engine.scenario.describe import describe

if TYPE_CHECKING:
    from planner.engine.network import Network
    from planner.engine.scenario.describe import Description


@pytest.fixture(scope="module")
def demo() -> Network:
    return demo_network()


@pytest.fixture(scope="module")
def described(demo: Network) -> Description:
    return describe(demo)


def test_it_has_six_sites_in_three_zones_and_their_people(demo: Network) -> None:
    assert len(demo.sites) == 6
    assert len({site.timezone for site in demo.sites}) == 3
    assert len(demo.stations) == 14
    assert len(demo.technicians) == 13
    assert demo.days == 21
    assert demo.first_day.weekday() == 0


def test_its_load_is_095_with_two_sites_overloaded(described: Description) -> None:
    loads = {site.site: site.load or 0 for site in described.sites}
    assert described.total().load == pytest.approx(0.95, abs=0.01)
    assert described.total().requests == pytest.approx(3000, rel=0.03)
    assert {site for site, load in loads.items() if load > 1.1} == {"branavask", "fenlosted"}
    assert all(
        load < 0.95 for site, load in loads.items() if site not in {"branavask", "fenlosted"}
    )


def test_its_station_days_hold_20_to_25_sessions(described: Description) -> None:
    density = described.density()
    assert density is not None
    assert 20 <= density <= 25


def test_one_technician_travels_and_one_site_is_short_of_a_skill(demo: Network) -> None:
    homes = {t.id: {shift.site for shift in t.shifts} for t in demo.technicians}
    assert [name for name, sites in homes.items() if len(sites) > 1] == ["othlim-13"]
    skilled = {
        shift.site
        for technician in demo.technicians
        for shift in technician.shifts
        if "difficult_capture" in technician.skills
    }
    assert {site.id for site in demo.sites} - skilled == {"fenlosted"}
    assert any(
        "difficult_capture" in request.skills and {c.site for c in request.sites} == {"fenlosted"}
        for request in demo.requests
    )


def test_it_holds_every_kind_of_thing(demo: Network, described: Description) -> None:
    assert {c.why for station in demo.stations for c in station.closed} == {
        "calibration",
        "scanner away for repair",
        "room painted",
        "power works",
    }
    assert {care.technician for care in demo.care} == {True, False}
    assert {item.fixed for item in demo.appointments} == {True, False}
    assert demo.reserve
    assert described.rework > 60


def test_five_requests_cannot_be_served(demo: Network) -> None:
    known = {skill for technician in demo.technicians for skill in technician.skills}
    unknown = [request for request in demo.requests if not set(request.skills) <= known]
    sundays = [
        request
        for request in demo.requests
        if request.available and all(w.start // 1440 % 7 == 6 for w in request.available)
    ]
    assert (len(unknown), len(sundays)) == (2, 3)


@pytest.mark.parametrize(
    ("profile", "planned"), [("full_set", 18), ("worn_ridges", 22), ("rework", 32)]
)
def test_its_planned_lengths_are_the_ones_computed_elsewhere(
    described: Description, profile: str, planned: int
) -> None:
    """Planned minutes of these three profiles were computed independently of this project."""
    assert described.lengths[profile] == planned
