"""A re-plan from events to checked plan: the least change, stage by stage."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from planner.engine.booking.breaks import with_breaks_in_shifts
from planner.engine.booking.problem import Problem, build_problem
from planner.engine.booking.replan.board import Board, Costs
from planner.engine.booking.replan.care import place_displacing, place_free
from planner.engine.booking.replan.caremodel import place_with_model
from planner.engine.booking.replan.change import changed_network
from planner.engine.booking.replan.events import Events, check_events
from planner.engine.booking.replan.figures import finished_plan, tables
from planner.engine.booking.replan.final import last_look
from planner.engine.booking.replan.judge import Hours, Judge
from planner.engine.booking.replan.news import News, tell
from planner.engine.booking.replan.repack import repack
from planner.engine.booking.replan.rests import freeze
from planner.engine.booking.replan.scene import Scene
from planner.engine.booking.replan.seat import (
    AFFECTED_EACH,
    Ousted,
    improve,
    oust,
    seat_all,
    seat_on,
)
from planner.engine.booking.replan.settle import settle
from planner.engine.booking.replan.standing import Standing, stand
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.pool import draw_pool
from planner.engine.errors import Fault, FileRefused, PlanUnsound
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.sessions.things import plan_things
from planner.engine.units import DAY
from planner.engine.verify import Breach, verify, verify_undrawn

JUDGE_DRAWS = 4096
PACK_DRAWS = 1024
LENIENT = -4.0
"""The packer's guard: what stands is judged apart, its draws must not call it unsound."""
CHECK_DRAWS = 2000
PROMISES = 9


@dataclass(frozen=True, slots=True)
class Replanned:
    """The network after the events, the plan for it, and the news for those concerned."""

    network: Network
    plan: Plan
    news: News


@dataclass(slots=True)
class _Stages:
    clock: Callable[[], float]
    seconds: dict[str, float]
    _name: str = ""
    _began: float = 0.0

    def enter(self, name: str) -> None:
        now = self.clock()
        if self._name:
            self.seconds[self._name] = round(now - self._began, 3)
        self._name, self._began = name, now


def replan(
    network: Network, plan: Plan, events: Events, *, seed: int = 0,
    clock: Callable[[], float] = time.monotonic,
) -> Replanned:  # fmt: skip
    """Change a plan by the least that answers to events.

    Who is not touched stays where they are, to the minute, unless somebody would be left out
    whom their moving saves, and all costs together fall by it. Scanner care that lost its time is
    placed again before anybody is; it is left out only where it fits no way at all.

    Parameters
    ----------
    network, plan
        The network, and a plan that keeps all rules for it. The planned lengths are ``plan``'s.
    events
        What happened.
    seed
        Of all draws: the same files, events and seed give the same plan but for ``seconds``.
    clock
        Seconds, rising; read for the report alone.

    Raises
    ------
    FileRefused
        Where the events do not fit the network, or the plan does not keep the rules for it.
    NetworkImpossible
        Naming the fixed appointments that the events leave without what they need.
    PlanUnsound
        Where the plan failed its check: a fault of the program.

    """
    stages = _Stages(clock, {})
    stages.enter("read")
    check_events(network, events)
    _refuse(verify_undrawn(network, plan))
    changed = changed_network(network, plan, events)
    problem = build_problem(with_breaks_in_shifts(changed), plan.lengths)
    standing = stand(problem, plan, events)
    stages.enter("judge")
    scene = _scene(network, plan, events, standing, seed)
    stages.enter("care")
    lost_care = _place_care(scene, problem, standing)
    standing.hit |= settle(scene, standing.touched)
    stages.enter("people")
    ousted = _seat(scene, standing, plan, seed)
    stages.enter("last look")
    p_wait, late = last_look(scene)
    sitedays = scene.changed(standing.touched)
    p_wait = _as_stated(scene, plan, p_wait, sitedays)
    stages.enter("options")
    level = tables(problem)
    stages.enter("bound")
    found = finished_plan(scene, level, p_wait, lost_care, plan, sitedays, stages.seconds, seed)
    news = tell(scene, plan, found, standing.hit | late, ousted.by)
    stages.enter("check")
    _check(scene, found, sitedays, seed)
    stages.enter("")
    return Replanned(changed, found, news)


def _scene(network: Network, plan: Plan, events: Events, standing: Standing, seed: int) -> Scene:
    """The board with its costs, and what the old plan risked on the same draws."""
    problem = standing.board.problem
    ids = [item.id for item in network.requests] + [item.id for item in events.added]
    numbers = {name: k for k, name in enumerate(dict.fromkeys(ids))}
    judge = Judge(problem.network, numbers, draws=JUDGE_DRAWS, seed=seed + 2)
    things = plan_things(network, plan.bookings, plan.care, plan.breaks)
    before = judge.risks(things, Hours(network))
    return Scene(standing.board, Costs(problem), judge, Hours(problem.network), before,
                 standing.origin)  # fmt: skip


def _place_care(scene: Scene, floating: Problem, standing: Standing) -> dict[int, str]:
    """Place the care that lost its time; returns what has no place at all, and why it lost it."""
    hard: dict[int, dict[int, int]] = {}
    network = floating.network
    for care, (was, _) in sorted(standing.care.items()):
        if place_free(scene, care, was):
            standing.touched.add(scene.board.care[care].g)
            continue
        gone = place_displacing(scene, care, was)
        if gone is None:
            station = network.stations[floating.index.station[network.care[care].station]]
            hard.setdefault(floating.index.site[station.site], {})[care] = was
            continue
        standing.touched.add(scene.board.care[care].g)
        standing.hit |= dict.fromkeys(gone, f"care {network.care[care].id} had to move")
    lost: dict[int, str] = {}
    for site, missing in hard.items():
        change = place_with_model(scene, floating, site, missing)
        for request in change.gone:
            standing.hit[request] = "care of its site had to move"
            standing.touched.add(scene.board.take(request).g)
        _set_rests(scene.board, floating, change.rests, standing.touched)
        for care, spot in change.care.items():
            if care in scene.board.care:
                scene.board.take_care(care)
            scene.board.put_care(care, spot)
            standing.touched.add(spot.g)
        for care in missing:
            if care not in scene.board.care:
                why = standing.care[care][1]
                proof = "no time is left" if change.proven else "no time was found"
                lost[care] = f"{why}, and {proof} in its days beside what stands fixed"
    return lost


def _set_rests(
    board: Board, floating: Problem, rests: dict[tuple[int, int], int], touched: set[int]
) -> None:
    """Put breaks at other times."""
    old = board.problem
    moved = {key for key, start in rests.items() if old.early_breaks.get(key) != start}
    if not moved:
        return
    frozen = freeze(floating, old.early_breaks | rests)
    for g, siteday in enumerate(frozen.sitedays):
        if siteday.fixed != old.sitedays[g].fixed:
            board.mark(g, (old.sitedays[g].fixed, siteday.fixed))
            old.sitedays[g].fixed = siteday.fixed
            touched.add(g)
    old.early_breaks |= rests


def _seat(scene: Scene, standing: Standing, plan: Plan, seed: int) -> Ousted:
    """Give everybody a place who lost theirs or is new, and then those who waited before."""
    board = scene.board
    problem, network = board.problem, board.problem.network
    unbooked = {item.request for item in plan.unbooked}
    everybody = [r for r in range(len(network.requests)) if r not in problem.fixed_of]
    new = {r for r in everybody if r not in board.spots and r not in problem.movable_of}
    waited = {r for r in new if network.requests[r].id in unbooked}
    queue = [*standing.hit, *(new - waited)]
    ousted = Ousted(most=max(1, len(queue) // AFFECTED_EACH))
    left = seat_all(scene, queue)
    left = oust(scene, left, ousted)
    if left:
        pool = draw_pool(network, draws=PACK_DRAWS, seed=seed)
        packer = Packer(board.problem, pool, LENIENT, seed)
        loose = {r for r in queue if r in board.spots and board.spots[r] != standing.origin.get(r)}
        left = repack(scene, packer, left, loose)
        left = oust(scene, left, ousted)
    improve(scene, [r for r in queue if r in board.spots])
    seat_on(scene, [*left, *waited], standing.touched)
    return ousted


def _check(scene: Scene, found: Plan, sitedays: set[int], seed: int) -> None:
    """Verify the new plan: every rule, and rule 9 on the site-days on which anything changed.

    On the others the old plan's promises stand.
    """
    problem = scene.board.problem
    network, index = problem.network, problem.index
    site_of = {item.id: index.site[item.site] for item in network.stations}
    station_of = {item.id: item.station for item in network.care}
    days = {(problem.sitedays[g].site, problem.sitedays[g].day) for g in sitedays}
    people = {
        (network.technicians[worker.technician].id, problem.sitedays[g].day)
        for g in sitedays
        for worker in problem.sitedays[g].workers
    }
    part = replace(
        found,
        bookings=tuple(b for b in found.bookings if (site_of[b.station], b.start // DAY) in days),
        care=tuple(c for c in found.care if (site_of[station_of[c.care]], c.start // DAY) in days),
        breaks=tuple(b for b in found.breaks if (b.technician, b.start // DAY) in people),
    )
    drawn = verify(network, part, draws=CHECK_DRAWS, seed=seed + 3)
    breaches = [*verify_undrawn(network, found), *(b for b in drawn if b.rule == PROMISES)]
    if breaches:
        remedy = "this is a fault of the program: report it with the files and the events"
        raise PlanUnsound([Fault(f"rule {item.rule}", item.detail, remedy) for item in breaches])


def _as_stated(
    scene: Scene, plan: Plan, p_wait: dict[str, float], sitedays: set[int]
) -> dict[str, float]:
    """What the old plan states stands where nothing changed."""
    index = scene.board.problem.index.request
    stated = {
        item.request: item.p_wait
        for item in plan.bookings
        if (spot := scene.board.spots.get(index.get(item.request, -1))) and spot.g not in sitedays
    }
    return p_wait | stated


def _refuse(breaches: tuple[Breach, ...]) -> None:
    if breaches:
        remedy = "give the plan that was made for this network"
        raise FileRefused(
            [Fault(f"plan, rule {item.rule}", item.detail, remedy) for item in breaches]
        )
