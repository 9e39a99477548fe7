"""Everybody without a place gets one: free places first, then places that somebody can give up."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from planner.engine.booking.replan.board import Spot
from planner.engine.booking.replan.holes import find_place, has_gap, make_room, place_on
from planner.engine.booking.replan.scene import Scene

EPSILON = 1e-9
PLACES = 12
"""How many of a request's cheapest site-days are asked for somebody who gives way."""
EXCHANGES = 3000
"""Exchanges that are tried in all: what a re-plan may spend on people who give way."""


AFFECTED_EACH = 10
"""Requests that events affected, for each untouched person who may give way."""


@dataclass(slots=True)
class Ousted:
    """Who gave way for whom: ``by[x]`` is the request in whose favour ``x`` moved.

    ``most`` bounds how many untouched people may: a re-plan changes little, whatever it saves.
    """

    most: int
    by: dict[int, int] = field(default_factory=dict)
    tried: int = 0

    def may(self, scene: Scene, other: int) -> bool:
        """Whether somebody may give way: always who had to move anyway."""
        return not is_untouched(scene, other) or len(self.by) < self.most


def is_untouched(scene: Scene, request: int) -> bool:
    """Whether a request stands where the old plan had it."""
    was, now = scene.origin.get(request), scene.board.spots.get(request)
    return was is now or was == now


def urgency(scene: Scene, request: int) -> tuple[float, int]:
    """Those who would cost most a minute when left out choose first."""
    problem = scene.board.problem
    item = problem.network.requests[request]
    minutes = min(
        (int(problem.lengths[problem.index.profile[choice.profile or item.profile]])
         for choice in item.sites),
        default=1,
    )  # fmt: skip
    return -scene.costs.of(request, None) / minutes, request


def seat_all(scene: Scene, queue: Iterable[int]) -> list[int]:
    """Give each request its cheapest free place; returns those that found none."""
    left = []
    for request in sorted(queue, key=lambda r: urgency(scene, r)):
        spot = find_place(scene, request, below=scene.costs.of(request, None))
        if spot is None:
            left.append(request)
        else:
            scene.board.put(request, spot)
    return left


def seat_on(scene: Scene, queue: Iterable[int], sitedays: set[int]) -> list[int]:
    """Seat those who wait on site-days where room came free; returns who was seated."""
    seated = []
    for request in sorted(queue, key=lambda r: urgency(scene, r)):
        for _, g in scene.costs.places(request):
            spot = place_on(scene, request, g) if g in sitedays else None
            if spot is not None:
                scene.board.put(request, spot)
                seated.append(request)
                break
    return seated


def oust(scene: Scene, queue: list[int], ousted: Ousted) -> list[int]:
    """Seat requests where somebody gives way and the two together get cheaper.

    Returns those that are still without a place, whoever was put out for good among them.
    """
    left: list[int] = []
    waiting = list(queue)
    while waiting:
        request = waiting.pop(0)
        gone = _oust_for(scene, request, ousted)
        if gone is None:
            left.append(request)
        else:
            left += gone
    return left


def _oust_for(scene: Scene, request: int, ousted: Ousted) -> list[int] | None:
    """Seat one request; returns who lost their place for it, or None where it was not seated."""
    alone = scene.costs.of(request, None)
    for charge, g in scene.costs.places(request)[:PLACES]:
        cost = charge + alone - scene.costs.out(request)
        gain = alone - cost
        for other in _residents(scene, request, g, ousted):
            if ousted.tried == EXCHANGES or gain <= EPSILON:
                return None
            ousted.tried += 1
            stood = is_untouched(scene, other)
            outcome = _exchange(scene, request, g, other, gain)
            if outcome is not None:
                if stood:
                    ousted.by[other] = request
                return [other] if outcome else []
    return None


def _residents(scene: Scene, request: int, g: int, ousted: Ousted) -> list[int]:
    """Bookings of a site-day that may give way, those who would lose least first."""
    losses = []
    for other in make_room(scene, request, g):
        if ousted.may(scene, other):
            spot = scene.board.spots[other]
            now = scene.costs.of(other, spot)
            losses.append((least_elsewhere(scene, other) - now, other))
    return [other for _, other in sorted(losses)]


def least_elsewhere(scene: Scene, other: int) -> float:
    """What a resident would cost at least in another place, by the clock alone, or left out."""
    if scene.elsewhere_at != scene.board.state:
        scene.elsewhere.clear()
        scene.elsewhere_at = scene.board.state
    known = scene.elsewhere.get(other)
    if known is None:
        known = scene.elsewhere[other] = _least_elsewhere(scene, other)
    return known


def _least_elsewhere(scene: Scene, other: int) -> float:
    alone = scene.costs.of(other, None)
    roomy = scene.board.roomy()
    for charge, g in scene.costs.places(other):
        if g in roomy and has_gap(scene, other, g):
            return charge + alone - scene.costs.out(other)
    return alone


def _exchange(scene: Scene, request: int, g: int, other: int, gain: float) -> bool | None:
    """Let ``other`` give way on a site-day if that saves cost in all.

    Nobody who stands is put out for somebody who could be left out for as little. True: ``other``
    is left out; False: they have another place; None: nothing was changed.
    """
    board, costs = scene.board, scene.costs
    was, stood = board.spots[other], is_untouched(scene, other)
    now = costs.of(other, was)
    limit = now + gain - EPSILON
    dearer = costs.out(request) > costs.of(other, None)
    may_lose = costs.of(other, None) < limit and (dearer or not stood)
    if least_elsewhere(scene, other) >= limit:
        return None
    # Cheap to ask, and mostly the answer: is there a place for the other one at all? (Not asked of
    # who moves anyway: with them gone, part of their own place may do.)
    if stood and not may_lose and find_place(scene, other, below=limit) is None:
        return None
    board.take(other)
    spot = place_on(scene, request, g)
    if spot is not None:
        board.put(request, spot)
        elsewhere = find_place(scene, other, below=limit)
        if elsewhere is not None:
            board.put(other, elsewhere)
            return False
        if may_lose:
            return True
        board.take(request)
    board.put(other, was)
    return None


def improve(scene: Scene, requests: Iterable[int]) -> None:
    """Give those who had to move anyway a cheaper free place, where one has come up since."""
    for request in sorted(requests, key=lambda r: urgency(scene, r)):
        was = scene.board.spots.get(request)
        if was is None:
            continue
        now = scene.costs.of(request, was)
        scene.board.take(request)
        better: Spot | None = find_place(scene, request, below=now - EPSILON)
        scene.board.put(request, better or was)
