"""A re-plan in words for a terminal: who moves where, who is told, who is lost, and why."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from planner.engine.booking.replan import Change, News, Replanned
from planner.engine.booking.replan.news import ADDED, GAVE_WAY, HIT, WAITED
from planner.engine.network import Network
from planner.engine.plan import Booking
from planner.engine.units import minute_text
from planner.gateway.summary import cost_words


def replan_lines(made: Replanned, cancelled: int = 0, waited: Sequence[str] = ()) -> list[str]:
    """The whole news, the counts first. Times are the told times, on the site's own clock.

    So many requests were ``cancelled``; those in ``waited`` of them had no booking.
    """
    network, news = made.network, made.news
    lines = list(_counts(made))
    if cancelled:
        booked = cancelled - len(waited)
        lines.append(f"cancelled   {cancelled:,}, of whom {booked:,} had a booking")
        lines += [f"            without one: {', '.join(waited)}"] if waited else []
    kept = [change for change in news.changes if change.before and change.after]
    newly = [change for change in news.changes if not change.before and change.after]
    out = [change for change in news.changes if change.before and not change.after]
    never = [change for change in news.changes if not change.before and not change.after]
    titled = (
        ("moves", kept, _moves),
        ("newly booked", newly, _booked),
        ("lost", [*out, *never], lambda network, change: _lost(made, change)),
    )
    for title, changes, text in titled:
        if changes:
            lines += ["", title]
            lines += [f"  {text(network, change)}" for change in changes]
    if made.plan.care_unplaced:
        lines += ["", "care without a time"]
        lines += [f"  {item.care}: {item.reason}" for item in made.plan.care_unplaced]
    told = [change.request for change in news.changes if change.is_told and not _never(change)]
    if told:
        lines += ["", f"to be told ({len(told)})", *_wrapped(told)]
    if not news.changes and not cancelled and not made.plan.care_unplaced:
        lines += ["", "No booking had to change: nobody stands where something happened."]
    return lines


def _counts(made: Replanned) -> Iterator[str]:
    news, plan = made.news, made.plan
    hit, gave_way = news.of(HIT), news.of(GAVE_WAY)
    yield f"affected    {news.affected:,}"
    moved = sum(bool(change.after) for change in hit)
    yield f"moved       {moved:,} affected, {len(gave_way):,} others who gave way"
    newly = sum(bool(change.after) for change in (*news.of(ADDED), *news.of(WAITED)))
    yield f"new         {newly:,} booked who were not before"
    yield f"lost        {sum(change.is_lost for change in news.changes):,}"
    yield f"to tell     {_told(news):,}"
    yield f"care        {len(plan.care):,} placed, {len(plan.care_unplaced):,} without a time"
    yield f"cost        {cost_words(plan)}"


def _told(news: News) -> int:
    return sum(change.is_told and not _never(change) for change in news.changes)


def _never(change: Change) -> bool:
    """Whether a request had no booking and has none."""
    return change.before is None and change.after is None


def _moves(network: Network, change: Change) -> str:
    told = "tell" if change.is_told else "same time and site, nobody to tell"
    return (
        f"{change.request}: {_place(network, change.before)} -> {_place(network, change.after)}"
        f" ({change.why}; {told})"
    )


def _booked(network: Network, change: Change) -> str:
    return f"{change.request}: {_place(network, change.after)} ({change.why}; tell)"


def _lost(made: Replanned, change: Change) -> str:
    reasons = next(item.reasons for item in made.plan.unbooked if item.request == change.request)
    why = "; ".join(f"{item.code}: {item.detail}; {item.remedy}" for item in reasons)
    was = f"was {_place(made.network, change.before)} ({change.why}); " if change.before else ""
    return f"{change.request}: {was}{why}"


def _place(network: Network, booking: Booking | None) -> str:
    if booking is None:
        return "no place"
    told = minute_text(booking.told, network.first_day)
    return f"{told} {booking.station} {booking.technician}"


def _wrapped(names: Iterable[str]) -> Iterator[str]:
    """Names, as many on a line as fit."""
    line = " "
    for name in names:
        if len(line) + 1 + len(name) > 100 and line.strip():
            yield line
            line = " "
        line += f" {name}"
    if line.strip():
        yield line
