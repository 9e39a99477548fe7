"""A day that is run again only where a change reaches it is the day run from nothing (derived)."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import numpy as np
import pytest

from planner.engine.booking import Options, plan
from planner.engine.booking.offers import OfferDesk
from planner.engine.booking.offers.book import Change, Item
from planner.engine.booking.offers.island import Island, run_island
from planner.engine.booking.offers.starts import starts
from planner.engine.errors import NetworkImpossible
from tests.engine.booking.networks import random_network

if TYPE_CHECKING:
    from planner.engine.booking.offers.islands import Islands
    from planner.engine.booking.offers.search import Place, Search
    from planner.engine.network import Request


def state(island: Island) -> dict[str, object]:
    """Everything by thing, in order of the day, whatever row it has."""
    rows = island.order.tolist()
    ends = [island.extra[s] if (s := island.slot[k]) >= 0 else island.ends[k] for k in rows]
    mine = [island.items[k] for k in rows]
    return {
        "items": mine,
        "ends": np.array(ends).tobytes(),
        "counts": island.counts[rows].tolist(),
        "allow": island.allow[rows].tolist(),
        "limits": island.rows[rows, 6:].tolist(),
        "booked": sorted(island.booked),
        "stations": {k: [island.keys[r] for r in v] for k, v in island.at_station.items() if v},
        "people": {k: [island.keys[r] for r in v] for k, v in island.with_person.items() if v},
        "session": {k: island.keys[r] for k, r in island.last_session.items()},
        "thing": {k: island.keys[r] for k, r in island.last_thing.items()},
        "decided": (
            island.decided.stations, island.decided.shifts, island.decided.cared,
        ),
    }  # fmt: skip


def from_nothing(islands: Islands, whole: Island, change: Change) -> Island:
    """The island of the things that a change leaves and adds, run from the first on."""
    left = [item for item in whole.items if item.thing.key not in change.gone or not item.thing.key]
    return run_island(islands.judge, whole.base, [*left, *change.added])


def changes(islands: Islands, whole: Island, dice: random.Random) -> list[Change]:
    """One to three bookings taken out, and one to two of them put in again a little later."""
    names = [i.thing.key for i in whole.items if i.thing.key and not i.fixed]
    made = []
    for _ in range(6 if names else 0):
        gone = dice.sample(names, min(len(names), dice.randrange(1, 4)))
        again: list[Item] = []
        for name in gone[: dice.randrange(0, 3)]:
            later = dice.choice((0, 5, 20))
            item = whole.items[whole.booked[name]]
            thing = type(item.thing)(
                item.thing.order + later, item.thing.own + later, item.thing.station,
                item.thing.technician, 0, name, item.thing.profile,
            )  # fmt: skip
            again.append(
                Item(thing, item.end + later, item.group, item.shift, fixed=False,
                     number=item.number, rework=item.rework)
            )  # fmt: skip
        made.append(Change(frozenset(gone), tuple(again)))
    return made


@pytest.mark.parametrize("block", range(3))
def test_a_changed_day_is_the_day_run_from_nothing(block: int) -> None:
    compared = 0
    for seed in range(block * 20, block * 20 + 20):
        network = random_network(seed)
        try:
            made = plan(network, Options(effort=1, seed=seed))
        except NetworkImpossible:
            continue
        islands = OfferDesk(network, made, draws=256).search.islands
        dice = random.Random(seed)
        for group in sorted(islands.book.items):
            whole = islands.at(group, Change())
            for change in changes(islands, whole, dice):
                found = state(islands.at(group, change))
                assert found == state(from_nothing(islands, whole, change))
                compared += 1
    assert compared >= 50


def test_a_start_that_is_ruled_out_at_once_would_be_refused() -> None:
    """Every told time that `starts` leaves out for the waiting promise breaks it when it is run."""
    ruled_out = 0
    for seed in range(30, 60):
        network = random_network(seed)
        try:
            made = plan(network, Options(effort=1, seed=seed))
        except NetworkImpossible:
            continue
        search, dice = OfferDesk(network, made, draws=256).search, random.Random(seed)
        for request in dice.sample(network.requests, min(4, len(network.requests))):
            for place in search.places(request):
                whole = search.islands.at(place.group, Change())
                for change in [Change(), *changes(search.islands, whole, dice)[:2]]:
                    ruled_out += refused(search, request, place, change)
    assert ruled_out >= 50


def refused(search: Search, request: Request, place: Place, change: Change) -> int:
    """How many starts are ruled out; asserts that a run of the day would refuse each."""
    change = Change(change.gone | {request.id}, change.added)
    of = (search.holes, place.group, change, request, place.need, place.part)
    left = {(s.told, s.station, s.shift) for s in starts(*of, promised=search.islands.promised)}
    out = [s for s in starts(*of) if (s.told, s.station, s.shift) not in left]
    for start in out:
        assert search.islands.fits(search.item(request, place, start), change) is None
    return len(out)
