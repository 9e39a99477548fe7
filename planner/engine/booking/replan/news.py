"""What a re-plan means for those concerned: who moves where, who is told, who is lost, and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.engine.booking.replan.scene import Scene
from planner.engine.plan import Booking, Plan

HIT = "hit"
GAVE_WAY = "gave way"
ADDED = "added"
WAITED = "waited"


@dataclass(frozen=True, slots=True)
class Change:
    """One request whose booking is not what it was; None where it had, or has, none.

    ``kind`` is ``hit`` (an event took its place), ``gave way`` (untouched, moved in favour of
    ``favours``), ``added`` or ``waited`` (not booked before). ``why`` is a clause.
    """

    request: str
    kind: str
    why: str
    before: Booking | None
    after: Booking | None
    favours: str = ""

    @property
    def is_lost(self) -> bool:
        """Whether somebody lost their booking for good."""
        return self.before is not None and self.after is None

    @property
    def is_told(self) -> bool:
        """Whether the subject must hear of it: time or site changed, or all there was or is."""
        if self.before is None or self.after is None:
            return True
        was, now = self.before, self.after
        return (was.told, was.site) != (now.told, now.site)


@dataclass(frozen=True, slots=True)
class News:
    """All changes, in the order of the old bookings' times; then who is newly booked.

    ``affected`` counts the requests whose place an event took, added ones included.
    """

    changes: tuple[Change, ...]
    affected: int

    def of(self, kind: str) -> tuple[Change, ...]:
        """The changes of one kind."""
        return tuple(change for change in self.changes if change.kind == kind)


def tell(
    scene: Scene, old: Plan, new: Plan, hit: Mapping[int, str], ousted: Mapping[int, int]
) -> News:
    """Compare two plans booking by booking."""
    problem = scene.board.problem
    requests, index = problem.network.requests, problem.index.request
    before = {item.request: item for item in old.bookings if item.request in index}
    waited = {item.request for item in old.unbooked}
    after = {item.request: item for item in new.bookings}
    order = [item.request for item in sorted(before.values(), key=lambda b: (b.start, b.site))]
    order += [item.id for item in requests if item.id not in before]
    changes = []
    for name in order:
        was, now = before.get(name), after.get(name)
        r = index[name]
        if _same(was, now):
            continue
        favours = requests[ousted[r]].id if r in ousted and r not in hit else ""
        if was is None:
            kind = WAITED if name in waited else ADDED
            why = "a place came free" if kind == WAITED else "added"
        elif favours:
            kind, why = GAVE_WAY, f"makes room for {favours}"
        else:
            kind, why = HIT, hit.get(r, "its place went")
        changes.append(Change(name, kind, why, was, now, favours))
    added = sum(name not in before and name not in waited for name in order)
    return News(tuple(changes), len(hit) + added)


def _same(was: Booking | None, now: Booking | None) -> bool:
    if was is None or now is None:
        return was is now
    return (was.station, was.technician, was.told) == (now.station, now.technician, now.told)
