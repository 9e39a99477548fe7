"""Rule 7: fixed appointments stand, and what moved is said."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from planner.engine.verify.breach import Breach
from planner.engine.verify.cost import moved_or_dropped

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.engine.verify.facts import Facts


def fixed_stand(facts: Facts) -> Iterator[Breach]:
    """Rule 7: a fixed appointment is booked, with its station, technician, start and minutes."""
    for request, stands in facts.fixed.items():
        booking = facts.booked.get(request)
        things = (stands.id, request)
        if booking is None:
            yield Breach(7, things, f"the fixed appointment {stands.id} of {request} is not booked")
            continue
        pairs = (
            ("station", stands.station, booking.station),
            ("technician", stands.technician, booking.technician),
            ("start", facts.at(stands.start), facts.at(booking.start)),
            ("minutes", stands.minutes, booking.minutes),
        )
        changes = [f"{name} {new} for {old}" for name, old, new in pairs if new != old]
        if changes:
            detail = f"the fixed appointment {stands.id} of {request} has {', '.join(changes)}"
            yield Breach(7, things, detail)


def moved_is_said(facts: Facts) -> Iterator[Breach]:
    """Rule 7: ``moved`` holds exactly the ids of the appointments moved or dropped."""
    said = Counter(facts.plan.moved)
    truth = moved_or_dropped(facts)
    for name in sorted(truth - set(said)):
        yield Breach(7, (name,), f"appointment {name} is moved or dropped, but not in `moved`")
    known = {item.id: item for item in facts.network.appointments}
    for name, times in said.items():
        if name not in known:
            yield Breach(7, (name,), f"`moved` names {name}, no known appointment")
        elif name not in truth:
            yield Breach(7, (name,), f"`moved` names appointment {name}, which stands as it was")
        if times > 1:
            yield Breach(7, (name,), f"`moved` names {name} {times} times")
