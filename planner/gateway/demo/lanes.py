"""A technician at a station for a day: the times that can still be given away."""

from __future__ import annotations

from dataclasses import dataclass

from planner.gateway.demo.calendar import SiteDay, Turn

Spans = list[tuple[int, int]]


@dataclass(slots=True)
class Lane:
    """``free`` is what is left of the day, as [from, to) in minutes past midnight, in order."""

    station: str
    features: frozenset[str]
    turn: Turn
    rest: tuple[int, int] | None
    free: Spans

    def take(self, minutes: int) -> int | None:
        """The earliest start of ``minutes`` in a row, which are then gone; None where none fits."""
        for index, (start, end) in enumerate(self.free):
            if end - start >= minutes:
                self.free[index] = (start + minutes, end)
                return start
        return None


def lanes_of(here: SiteDay) -> list[Lane]:
    """Pair the technicians with stations, another pairing every day."""
    names = here.stations
    if not names:
        return []
    turned = here.day.toordinal() % len(names)
    order = [*names[turned:], *names[:turned]]
    lanes = []
    for turn, name in zip(here.turns, order, strict=False):
        rest = (turn.rest_from + 15, turn.rest_from + 15 + turn.rest) if turn.rest else None
        taken = [here.calibration.get(name), here.cleaning.get(name), rest]
        free = [
            (max(opens, turn.start), min(closes, turn.end))
            for opens, closes in here.windows
            if max(opens, turn.start) < min(closes, turn.end)
        ]
        for span in taken:
            if span is not None:
                free = cut(free, span)
        number = int(name.rsplit("-", 1)[1]) - 1
        lanes.append(Lane(name, frozenset(here.plan.features[number]), turn, rest, free))
    return lanes


def cut(free: Spans, gone: tuple[int, int]) -> Spans:
    """The spans less one."""
    left: Spans = []
    for start, end in free:
        left += [(start, min(end, gone[0]))] if start < gone[0] else []
        left += [(max(start, gone[1]), end)] if end > gone[1] else []
    return [(start, end) for start, end in left if end > start]
