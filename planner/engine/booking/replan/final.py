"""The last look: whole dates and all sites together, lateness carried over midnight."""

from __future__ import annotations

from planner.engine.booking.replan.holes import find_place
from planner.engine.booking.replan.scene import Scene
from planner.engine.sessions.things import Thing

SEATS = 8
"""Rounds after which those who lose their place are not sent on any more."""


def last_look(scene: Scene) -> tuple[dict[str, float], dict[int, str]]:
    """Judge everything at once, and let go who breaks a promise.

    Returns P(wait too long) by request id, and the requests that lost their place here, with why
    (they may have found another since).
    """
    board, index = scene.board, scene.board.problem.index.request
    requests = board.problem.network.requests
    late: dict[int, str] = {}
    rounds = 0
    while True:
        rounds += 1
        risks = scene.judge.risks(everything(scene), scene.hours)
        decided = {requests[r].id for r in board.spots}
        moved = {requests[r].id for r, spot in board.spots.items() if scene.origin.get(r) != spot}
        found = scene.judge.broken(risks, scene.before, decided, moved)
        if not found:
            return risks.waits, late
        for broken in {item.request: item for item in found}.values():
            request = index[broken.request]
            was = board.take(request)
            late[request] = f"the promise no longer holds there: it {broken.what}"
            if rounds <= SEATS:
                alone = scene.costs.of(request, None)
                spot = find_place(scene, request, below=alone, avoid=frozenset([was.g]))
                if spot is not None:
                    board.put(request, spot)


def everything(scene: Scene) -> list[Thing]:
    """All things of the horizon, breaks on days on which no site opens among them."""
    problem = scene.board.problem
    things = [
        thing
        for siteday in problem.sitedays
        for thing in scene.things(siteday.index)
        if thing.key or thing.station >= 0
    ]
    for (person, number), start in problem.early_breaks.items():
        minutes = problem.network.technicians[person].shifts[number].break_minutes
        things.append(Thing(start, start, -1, person, minutes, "", ""))
    return things
