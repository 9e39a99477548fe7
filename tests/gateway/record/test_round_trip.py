"""Records, network, plan, records, network: nothing that the engine uses is lost on the way."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from planner.engine.booking import Options, plan
from planner.engine.errors import FileRefused, NetworkImpossible
from planner.engine.network import Network
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import Size
from planner.engine.scenario.small import SMALL
from planner.engine.verify import verify
from planner.gateway.files import read_network
from planner.gateway.record import read, store, write
from sites.check.all import CHECKS
from sites.models import Break, CareWindow, Site
from tests.engine.booking.networks import random_network
from tests.gateway.record.same import engine_form, holdable

pytestmark = pytest.mark.django_db
DEMO = Path(__file__).resolve().parents[3] / "fixtures" / "demo-network.json"


def again(network: Network) -> Network:
    """What the record says of the network's horizon."""
    return read(first_day=network.first_day, days=network.days)


def findings() -> list[str]:
    """Everything that is off with the record."""
    return [str(finding) for check in CHECKS.values() for finding in check()]


def there_and_back(network: Network, seed: int) -> bool:
    """Store, read, plan, write and read again; False where the network has no plan."""
    store(network)
    there = again(network)
    assert engine_form(there) == engine_form(network)
    assert findings() == []
    try:
        made = plan(there, Options(effort=1, seed=seed))
    except NetworkImpossible:
        return False
    assert verify(there, made, draws=500, seed=seed) == ()
    written = write(there, made)
    assert written.changed == ()
    assert findings() == []
    now = again(network)
    assert {(a.request, a.station, a.technician, a.start, a.minutes) for a in now.appointments} == {
        (b.request, b.station, b.technician, b.start, b.minutes) for b in made.bookings
    }
    was = {row.request: row for row in there.appointments}
    for row in now.appointments:
        old = was.get(row.request)
        assert row.fixed == (old is not None and old.fixed)
        assert old is None or row.id == old.id
    before, after = engine_form(there), engine_form(now)
    assert {**before, "appointments": ()} == {**after, "appointments": ()}
    assert times_of(CareWindow, network) == {
        (each.care, each.start, each.technician) for each in made.care
    }
    assert times_of(Break, network) == {
        (each.technician, each.start, each.minutes) for each in made.breaks
    }
    return True


def times_of(model: type[CareWindow] | type[Break], network: Network) -> set[tuple[object, ...]]:
    """When care and breaks are, in the network's minutes."""
    names = ("code", "technician__code") if model is CareWindow else ("technician__code", "minutes")
    found: set[tuple[object, ...]] = set()
    for day, minute, *rest in model._default_manager.values_list("day", "minute", *names):
        start = (day - network.first_day) // timedelta(days=1) * 1440 + minute
        found.add((rest[0], start, rest[1]))
    return found


SPRING = (17, 19)
"""Networks with a shift or a closed time that begins in the hour that clocks leave out."""


@pytest.mark.parametrize("seed", sorted(set(range(30)) - set(SPRING)))
def test_a_random_network_comes_back_before_and_after_its_plan(seed: int) -> None:
    there_and_back(holdable(random_network(seed)), seed)


@pytest.mark.parametrize("seed", SPRING)
def test_a_time_that_no_clock_shows_is_refused_and_nothing_stays(seed: int) -> None:
    with pytest.raises(FileRefused, match=r"2026-03-29T02:.0: does not exist in Europe/Madrid"):
        store(holdable(random_network(seed)))
    assert not Site.objects.exists()


@pytest.mark.parametrize("seed", range(3))
def test_a_dense_network_comes_back_before_and_after_its_plan(seed: int) -> None:
    network = generate(Size(requests=60, sites=1, days=3), seed=seed)
    assert there_and_back(network, seed)


@pytest.mark.parametrize("name", ["empty", "one-station", "no-technician", "impossible-care"])
def test_tiny_networks_come_back(name: str) -> None:
    there_and_back(SMALL[name](), 1)


def test_the_demo_comes_back() -> None:
    network = read_network(DEMO)
    store(network)
    assert engine_form(again(network)) == engine_form(network)
    assert findings() == []
