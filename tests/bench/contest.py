"""The contestants, and one of them on one network: planned apart, judged alike."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from planner.engine.booking import Options, gap_as_capacity, plan, strong_bound
from planner.engine.network import Network
from planner.engine.scenario.describe import describe
from planner.engine.scenario.small import one_station
from tests.bench.apart import DONE, run_apart
from tests.bench.judge import judged, with_chances
from tests.bench.rivals.answer import Answer, Ask
from tests.bench.rivals.jobshop import jobshop
from tests.bench.rivals.monolith import monolith
from tests.bench.rivals.served import planned_lengths, serve, slot_lengths
from tests.bench.rivals.started import monolith_started
from tests.bench.rows import OURS, SLOTS, Row

GRACE_SHARE, GRACE_SECONDS = 0.25, 20.0
"""What a rival may take beyond its seconds, to write its plan down, before it is ended."""


@dataclass(frozen=True, slots=True)
class Contestant:
    """Who plans, in which words, with whose lengths (`OURS`: those of our plan)."""

    plans: Callable[[Ask], Answer]
    words: str
    lengths: Callable[[Network], dict[str, int]] | None = None
    patient: bool = False


def ours(ask: Ask) -> Answer:
    """The planner of this project; it chooses its own lengths."""
    seconds = None if ask.effort is not None else ask.seconds
    options = Options(seconds=seconds, effort=ask.effort, seed=ask.seed, workers=ask.workers)
    found = plan(ask.network, options)
    return Answer(found, found.bound)


CONTESTANTS = {
    OURS: Contestant(ours, "Platen"),
    SLOTS: Contestant(serve, "first come, first served, slots of 95 %", slot_lengths),
    "first-come": Contestant(serve, "first come, first served, planned lengths", planned_lengths),
    "monolith": Contestant(monolith, "one CP-SAT model of the whole network", patient=True),
    "monolith-started": Contestant(
        monolith_started, "the whole model, started from first come, first served", patient=True
    ),
    "monolith-95": Contestant(
        monolith_started, "the whole model, started so, slots of 95 %", slot_lengths, patient=True
    ),
    "jobshop": Contestant(jobshop, "PyJobShop, where it can state the problem", patient=True),
}
"""Everybody, in the order in which they plan; the patient ones get ``--times`` the seconds."""


@dataclass(frozen=True, slots=True)
class Case:
    """A network of the benchmark, and what everybody gets: seconds (or effort), processes."""

    name: str
    network: Network
    seed: int
    seconds: float
    effort: int | None = None
    workers: int = 1
    times: float = 1.0
    draws: int = 10_000
    memory_mb: float = 8000.0


def compile_first(memory_mb: float) -> None:
    """Plan something tiny, uncounted: the first run after a change of the sources compiles."""
    tiny = one_station()
    ask = Ask(tiny, planned_lengths(tiny), 1.0, effort=1)
    run_apart(ours, ask, seconds=None, memory_mb=memory_mb)


def contend(case: Case, name: str, lengths: Mapping[str, int] | None) -> Row:
    """One contestant on one network; ``lengths`` are those of our plan, None where there is none.

    The planned lengths stand in where there is none.
    """
    who, network = CONTESTANTS[name], case.network
    mine = dict(lengths or planned_lengths(network))
    given = who.lengths(network) if who.lengths else mine
    seconds = case.seconds * (case.times if who.patient else 1.0)
    ask = Ask(
        network, given, seconds, case.effort if name == OURS else None, case.seed, case.workers
    )
    limit = None if name == OURS else seconds * (1 + GRACE_SHARE) + GRACE_SECONDS
    ran = run_apart(who.plans, ask, seconds=limit, memory_mb=case.memory_mb)
    total = describe(network).total()
    row = Row(
        case=case.name,
        seed=case.seed,
        load=total.load,
        requests=len(network.requests),
        sites=len(network.sites),
        station_days=total.station_days,
        contestant=name,
        ended=ran.ended,
        asked_s=seconds,
        taken_s=ran.seconds,
        peak_mb=ran.peak_mb,
    )
    if ran.ended != DONE:
        return row
    answer: Answer = ran.value
    return _judged(case, row, answer, mine)


def _judged(case: Case, row: Row, answer: Answer, mine: Mapping[str, int]) -> Row:
    network, found = case.network, answer.plan
    shrink = strong = None
    if row.contestant == OURS:
        strong = strong_bound(network, found, threads=case.workers)
        shrink = gap_as_capacity(network, found, strong=True, threads=case.workers)
    else:
        found = with_chances(network, found, case.seed)
    verdict = judged(network, found, draws=case.draws, seed=case.seed + 1000)
    proves = all(found.lengths[name] <= minutes for name, minutes in mine.items())
    return replace(
        row,
        cost=found.objective,
        booked=len(found.bookings),
        bound=answer.bound if proves else None,
        strong=strong,
        gap_capacity=shrink,
        over=verdict.over,
        worst=verdict.worst,
        lengths=json.dumps(found.lengths),
        late_ends=verdict.late_ends,
        used=verdict.used,
        broken=verdict.broken,
        bound_holds=row.contestant == OURS
        or all(found.lengths[name] >= minutes for name, minutes in mine.items()),
        word=verdict.first or answer.word,
    )
