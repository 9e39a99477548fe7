"""What the record would no longer take, in words."""

from __future__ import annotations

from dataclasses import dataclass

from planner.engine.network import Network
from planner.engine.units import DAY
from planner.gateway.board.words import clock, day_words
from planner.gateway.record import Changed


@dataclass(frozen=True, slots=True)
class ChangedLine:
    """Something that the record would not take: what, the request if it is one, why, what to do."""

    what: str
    request: str
    problem: str
    remedy: str


def changed_words(each: Changed, network: Network | None) -> ChangedLine:
    """One change in words; a break is named by its technician and time."""
    if each.kind in ("booking", "drop"):
        what = "booking" if each.kind == "booking" else "giving up the place"
        return ChangedLine(what, each.id, each.problem, each.remedy)
    if each.kind == "break" and network is not None:
        who, _, start = each.id.rpartition("@")
        day = day_words(int(start) // DAY, network.first_day)
        what = f"break of {who}, {day} {clock(int(start), int(start) // DAY)}"
        return ChangedLine(what, "", each.problem, each.remedy)
    return ChangedLine(f"{each.kind} {each.id}", "", each.problem, each.remedy)
