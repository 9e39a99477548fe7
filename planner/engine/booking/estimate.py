"""What a draft risks: the rule of the day over whole dates, all sites together, on many draws.

The list schedule looks at one site-day; a technician may serve two sites on one date, and a site
that is open till midnight carries its lateness on. Here nothing is cut.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.draft import Draft
from planner.engine.booking.siteday import Block, SiteDay
from planner.engine.booking.timetable.rundate import NEVER, run_date
from planner.engine.units import DAY, told

Ints = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Risk:
    """An estimate: P(wait too long) of a request, or P(end too late) of a station or worker.

    ``kind`` is ``wait``, ``station`` or ``worker``; ``thing`` the request, or the place in the
    site-day's list; ``placed`` says whether the run placed anything there.
    """

    siteday: int
    kind: str
    thing: int
    risk: float
    placed: bool


@dataclass(slots=True)
class _Date:
    rows: list[tuple[int, ...]] = field(default_factory=list)
    tags: list[tuple[int, int, bool]] = field(default_factory=list)


@dataclass(slots=True)
class Estimator:
    """Estimates every promise of a draft; dates that did not change are not run again.

    ``pool`` as from `draw_pool`, apart from the packer's.
    """

    draft: Draft
    pool: NDArray[np.float32]
    _by_date: dict[int, list[int]] = field(init=False)
    _early: dict[int, list[tuple[int, ...]]] = field(init=False)
    _known: dict[int, tuple[tuple[int, ...], list[Risk]]] = field(init=False)

    def __post_init__(self) -> None:
        self._by_date, self._known = {}, {}
        for siteday in self.draft.problem.sitedays:
            self._by_date.setdefault(siteday.day, []).append(siteday.index)
        self._early = _early_by_date(self.draft)

    def risks(self) -> list[Risk]:
        """Every promise of the draft as it stands, by date."""
        network = self.draft.problem.network
        shape = (len(network.stations) + len(network.technicians), self.pool.shape[2])
        dates = sorted(set(self._by_date) | set(self._early))
        risks: list[Risk] = []
        late: NDArray[np.float32] | None = None  # who is still at work past midnight, and till when
        for date, following in pairwise([*dates, *(date + 1 for date in dates[-1:])]):
            sitedays = self._by_date.get(date, [])
            key = tuple(int(self.draft.version[g]) for g in sitedays)
            known = self._known.get(date)
            if late is None and known is not None and known[0] == key:
                risks += known[1]
                continue
            ready = np.full(shape, -1e6, dtype=np.float32) if late is None else late
            found = self._run(date, sitedays, ready)
            risks += found
            ready -= np.float32(DAY * (following - date))
            runs_over = bool((ready > 0).any())
            if late is None and not runs_over:
                self._known[date] = (key, found)
            late = ready if runs_over else None
        return risks

    def _run(self, date: int, sitedays: list[int], ready: NDArray[np.float32]) -> list[Risk]:
        policy = self.draft.problem.network.policy
        table, tags = _things(self.draft, sitedays, self._early.get(date, []))
        counts = np.zeros((len(table), 3), dtype=np.int32)
        run_date(table, self.pool, ready, policy.wait_minutes, policy.overtime_minutes, counts)
        return _risks(self.draft, table, tags, counts, self.pool.shape[2])


def _early_by_date(draft: Draft) -> dict[int, list[tuple[int, ...]]]:
    """Breaks placed outside site-days that begin on each date, as rows of things.

    Those on a site-day are among its blocks already.
    """
    problem, found = draft.problem, dict[int, list[tuple[int, ...]]]()
    on_a_day = {
        (siteday.workers[block.worker].technician, siteday.workers[block.worker].shift)
        for siteday in problem.sitedays
        for block in siteday.fixed
        if block.request < 0
    }
    for (person, shift), start in problem.early_breaks.items():
        if (person, shift) not in on_a_day:
            item = problem.network.technicians[person].shifts[shift]
            date, minute = divmod(start, DAY)
            place = len(problem.network.stations) + person
            row = (
                minute,
                minute,
                item.break_minutes,
                -1,
                place,
                -1,
                0,
                NEVER,
                item.end - date * DAY,
            )
            found.setdefault(date, []).append(row)
    return found


def _things(
    draft: Draft, sitedays: list[int], early: list[tuple[int, ...]]
) -> tuple[Ints, list[tuple[int, ...]]]:
    """The things of a date by planned start, and for each its site-day, request, and places."""
    rows: list[tuple[tuple[int, ...], tuple[int, ...]]] = [(row, (-1, -1, -1, -1)) for row in early]
    for g in sitedays:
        siteday, day = draft.problem.sitedays[g], draft.days[g]
        blocks = [
            Block(slot.start, slot.job.minutes, slot.station, slot.worker, slot.job.profile,
                  slot.job.request)
            for slot in day.slots
        ]  # fmt: skip
        blocks += [*day.pinned, *siteday.fixed, *siteday.closed, *(b for _, b in day.care)]
        blocks += [
            Block(start, siteday.workers[w].break_minutes, -1, w)
            for w, start in enumerate(day.rests)
            if start >= 0
        ]
        for number, block in enumerate(sorted(blocks, key=lambda b: (b.start, b.station))):
            rows.append(_row(draft, siteday, block, number))
    rows.sort(key=lambda pair: (pair[0][0], pair[0][3], pair[0][4]))
    table = np.array([row[1:] for row, _ in rows], dtype=np.int32).reshape(-1, 8)
    return table, [tag for _, tag in rows]


def _row(
    draft: Draft, siteday: SiteDay, block: Block, number: int
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    problem = draft.problem
    grain = problem.network.grain
    own = told(block.start, grain) if block.request >= 0 else block.start
    station = siteday.stations[block.station] if block.station >= 0 else -1
    person, shift_end = -1, NEVER
    if block.worker >= 0:
        worker = siteday.workers[block.worker]
        person = len(problem.network.stations) + worker.technician
        shift = problem.network.technicians[worker.technician].shifts[worker.shift]
        shift_end = shift.end - siteday.day * DAY
    closes = siteday.closes if block.request >= 0 else NEVER
    row = (block.start, own, block.minutes, station, person, block.profile, number, closes,
           shift_end)  # fmt: skip
    return row, (siteday.index, block.request, block.station, block.worker)


def _risks(
    draft: Draft, table: Ints, tags: list[tuple[int, ...]], counts: Ints, draws: int
) -> list[Risk]:
    fixed = draft.problem.fixed_of
    risks: list[Risk] = []
    last: dict[tuple[int, str, int], int] = {}
    placed: set[tuple[int, str, int]] = set()
    for k, (g, request, station, worker) in enumerate(tags):
        movable = request >= 0 and request not in fixed
        if request >= 0:
            risks.append(Risk(g, "wait", request, float(counts[k, 0]) / draws, movable))
            last[g, "station", station] = k
        if worker >= 0:
            last[g, "worker", worker] = k
        if movable:
            placed |= {(g, "station", station), (g, "worker", worker)}
    for g, request, station, worker in tags:
        if request < 0 <= worker and (g, "station", station) in placed:
            placed.add((g, "worker", worker))
    for (g, kind, thing), k in last.items():
        count = counts[k, 1 if kind == "station" else 2]
        risks.append(Risk(g, kind, thing, float(count) / draws, (g, kind, thing) in placed))
    return risks
