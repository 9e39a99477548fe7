"""What comes back for a set that was sent, and when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from planner.gateway.demo.captures import Dice
from planner.gateway.demo.story import (
    POOR_SITES,
    RETURNED_DATA,
    RETURNED_IMAGE,
    RETURNED_IMAGE_AGAIN,
    RETURNED_IMAGE_POOR,
    RETURNED_TRANSMISSION,
)
from sites.models import ResponseKind

MOST_DAYS = 25
MEAN_DAYS = {
    ResponseKind.ACCEPTED: 3.5,
    ResponseKind.IMAGE: 6.0,
    ResponseKind.DATA: 2.5,
    ResponseKind.TRANSMISSION: 1.0,
}
LEFT_LYING = 0.1
"""Share of returns that nobody reads on the next working day."""


@dataclass(frozen=True, slots=True)
class Answer:
    """A response; ``read`` and ``contacted`` lie after it, None where it asks for nothing."""

    kind: ResponseKind
    received: datetime
    read: datetime | None
    contacted: datetime | None


def image_chance(site: str, *, again: bool) -> float:
    """How likely a set of a site is returned for its images."""
    if again:
        return RETURNED_IMAGE_AGAIN
    return RETURNED_IMAGE_POOR if site in POOR_SITES else RETURNED_IMAGE


def answer(site: str, sent: datetime, *, again: bool, fixed: bool, dice: Dice) -> Answer:
    """Draw the response to a set; ``fixed`` is one that was only corrected or sent again."""
    mark = dice.uniform()
    kind = ResponseKind.ACCEPTED
    if not fixed:
        image = image_chance(site, again=again)
        if mark < image:
            kind = ResponseKind.IMAGE
        elif mark < image + RETURNED_DATA:
            kind = ResponseKind.DATA
        elif mark < image + RETURNED_DATA + RETURNED_TRANSMISSION:
            kind = ResponseKind.TRANSMISSION
    lag = min(MOST_DAYS, dice.rng.gamma(2.0, MEAN_DAYS[kind] / 2))
    received = working(sent + timedelta(days=lag, minutes=20))
    if kind is ResponseKind.ACCEPTED:
        return Answer(kind, received, None, None)
    lying = 2 + dice.below(5) if dice.uniform() < LEFT_LYING else 1
    read = at_desk(received + timedelta(days=lying), dice)
    contacted = None
    if kind is ResponseKind.IMAGE:
        contacted = at_desk(read + timedelta(days=dice.below(4)), dice)
        contacted = max(contacted, read + timedelta(minutes=10))
    return Answer(kind, received, read, contacted)


def working(at: datetime) -> datetime:
    """The same hour on the first working day from then on."""
    return at + timedelta(days=(0, 0, 0, 0, 0, 2, 1)[at.weekday()])


def at_desk(at: datetime, dice: Dice) -> datetime:
    """A time in the desk's hours (UTC, all sites' mornings) on that or the next working day."""
    day = working(at).replace(hour=14, minute=0, second=0, microsecond=0)
    return day + timedelta(minutes=dice.below(360))
