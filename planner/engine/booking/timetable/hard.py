"""A site-day that does not pack at once: more list schedules, then the exact model."""

from __future__ import annotations

from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Timetable
from planner.engine.booking.timetable.solve import solve_day
from planner.engine.rng import stream


def pack_hard(
    packer: Packer, g: int, demand: Demand, worth: tuple[float, ...], *,
    seed: int, trials: int, effort: float,
) -> Timetable:  # fmt: skip
    """The most valuable timetable found for a demand.

    ``worth[k]`` is what placing ``demand.jobs[k]`` here saves. List schedules in ``trials``
    orders come first; where something is still left, CP-SAT chooses and places within ``effort``
    (deterministic seconds), and its order is packed again with the promises kept.
    """
    siteday = packer.problem.sitedays[g]
    key = int(stream(seed, "pack", g).integers(1 << 30))
    best = packer.pack(siteday, demand, trials=trials, seed=key, worth=worth)
    if best.sound and best.left and effort > 0:
        value = {job.request: worth[k] for k, job in enumerate(demand.jobs)}
        order = solve_day(packer, siteday, demand, value, best, effort)
        if order is not None:
            again = packer.pack_in_order(siteday, demand, order.slots, order.rests)
            best = better(best, again, value)
    return best


def better(one: Timetable, other: Timetable, value: dict[int, float]) -> Timetable:
    """The timetable that leaves less value out; the first where they are alike."""
    return other if loss(other, value) < loss(one, value) else one


def loss(timetable: Timetable, value: dict[int, float]) -> tuple[bool, float, int]:
    """What a timetable leaves out; whether it is unsound comes first, pinned blocks last."""
    lost = sum(value[job.request] for job in timetable.left)
    return not timetable.sound, lost, len(timetable.unpinned)
