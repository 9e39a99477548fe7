"""Rule 5: every scanner care is placed once, where and when it may be."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from planner.engine.units import DAY
from planner.engine.verify.breach import Breach
from planner.engine.verify.places import off_shift, site_not_open, station_closed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.engine.network import Care
    from planner.engine.plan import CarePlaced
    from planner.engine.verify.facts import Facts


def each_care_once(facts: Facts, *, may_be_unplaced: bool) -> Iterator[Breach]:
    """Rule 5: placed exactly once; or, where that is allowed, unplaced with a reason."""
    placed = Counter(item.care for item in facts.plan.care)
    unplaced = Counter(item.care for item in facts.plan.care_unplaced)
    for care in facts.care:
        times, left = placed[care], unplaced[care]
        if times > 1:
            yield Breach(5, (care,), f"care {care} is placed {times} times")
        if left > 1:
            yield Breach(5, (care,), f"care {care} is listed {left} times as unplaced")
        if times and left:
            yield Breach(5, (care,), f"care {care} is both placed and listed as unplaced")
        if not times and not left:
            yield Breach(5, (care,), f"care {care} is neither placed nor listed as unplaced")
        if left and not may_be_unplaced:
            yield Breach(5, (care,), f"care {care} is left out, which only a re-plan may do")
    for care in (*placed, *(name for name in unplaced if name not in placed)):
        if care not in facts.care:
            yield Breach(5, (care,), f"the plan names care {care}, which the network has not")
    for item in facts.plan.care_unplaced:
        if not item.reason.strip():
            yield Breach(5, (item.care,), f"care {item.care} is unplaced without a reason")


def care_in_place(facts: Facts) -> Iterator[Breach]:
    """Rule 5: on a day of its window, the site open, the station not closed, a technician there."""
    for placed in facts.plan.care:
        care = facts.care.get(placed.care)
        if care is None:
            continue
        yield from _day(facts, placed, care)
        station = facts.stations[care.station]
        for why in site_not_open(facts, station.site, placed.start, care.minutes):
            yield Breach(5, (care.id, station.site), f"care {care.id} is placed {why}")
        for why in station_closed(facts, station.id, placed.start, care.minutes):
            yield Breach(5, (care.id, station.id), f"care {care.id} is placed {why}")
        yield from _technician(facts, placed, care, station.site)


def _day(facts: Facts, placed: CarePlaced, care: Care) -> Iterator[Breach]:
    day = placed.start // DAY
    if not care.earliest <= day <= care.latest:
        detail = (
            f"care {care.id} is placed on {facts.date(day)}, outside its window "
            f"from {facts.date(care.earliest)} to {facts.date(care.latest)}"
        )
        yield Breach(5, (care.id,), detail)
    if not 0 <= day < facts.network.days:
        detail = f"care {care.id} is placed on {facts.date(day)}, outside the horizon"
        yield Breach(5, (care.id,), detail)


def _technician(facts: Facts, placed: CarePlaced, care: Care, site: str) -> Iterator[Breach]:
    if not care.technician:
        if placed.technician is not None:
            detail = f"care {care.id} needs no technician, but {placed.technician} is named"
            yield Breach(5, (care.id, placed.technician), detail)
    elif placed.technician is None:
        yield Breach(5, (care.id,), f"care {care.id} needs a technician, and none is named")
    else:
        for why in off_shift(facts, placed.technician, site, placed.start, care.minutes):
            yield Breach(5, (care.id, placed.technician), f"care {care.id} is placed {why}")
