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
from planner.engine.errors import NetworkImpossible
from tests.engine.booking.networks import random_network

if TYPE_CHECKING:
    from planner.engine.booking.offers.islands import Islands


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
