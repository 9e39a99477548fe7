"""Days that an event squeezed: who has to leave so that reserve and promises hold again."""

from __future__ import annotations

from collections.abc import Iterable

from planner.engine.booking.replan.scene import Scene, over_reserve
from planner.engine.booking.replan.seat import least_elsewhere

RESERVE = "the day's reserve for rework would be used up"


def settle(scene: Scene, sitedays: Iterable[int]) -> dict[int, str]:
    """Take bookings off site-days until rules 8 and 9 hold there; returns who left and why."""
    gone: dict[int, str] = {}
    for g in sorted(set(sitedays)):
        gone |= dict.fromkeys(_free_reserve(scene, g), RESERVE)
        gone |= _free_promises(scene, g)
    return gone


def _free_reserve(scene: Scene, g: int) -> list[int]:
    """Rule 8: those leave who lose least by it, as few as the minutes ask for."""
    board, requests = scene.board, scene.board.problem.network.requests
    gone: list[int] = []
    if not board.problem.sitedays[g].reserve:
        return gone
    while over_reserve(board, g) > 0:
        plain = [r for r in board.days[g] if not requests[r].rework]
        if not plain:
            break
        now = {r: scene.costs.of(r, board.spots[r]) for r in plain}
        victim = min(plain, key=lambda r: (least_elsewhere(scene, r) - now[r], r))
        board.take(victim)
        gone.append(victim)
    return gone


def _free_promises(scene: Scene, g: int) -> dict[int, str]:
    """Rule 9: the first booking whose promise is broken leaves, and so on until none is."""
    board, index = scene.board, scene.board.problem.index.request
    gone: dict[int, str] = {}
    while found := scene.broken([g]):
        first = min(found, key=lambda item: board.spots[index[item.request]].block.start)
        victim = index[first.request]
        board.take(victim)
        gone[victim] = f"the promise no longer holds there: it {first.what}"
    return gone
