"""Offers for one caller: as a JSON value, and as a table with sentences."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

from planner.engine.units import day_text, minute_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.engine.booking.offers import Displacement, Held, Offer, Offers
    from planner.engine.network import Network
    from planner.engine.plan import Reason

CAUTION = (
    "A plan, not a decision about a person: who may be asked to come at another time is decided"
    " by people."
)
ESTIMATE = "an estimate from the profiles' no-show rates, taken as independent"
DIGITS = 6
SURE = 0.99

_TEXTS = (0, 1, 3, 4, 5)


def offers_value(network: Network, found: Offers) -> dict[str, Any]:
    """Everything as a value for JSON; times as in the network file, costs to six digits."""
    return {
        "request": found.request,
        "unbooked_cost": round(found.unbooked, DIGITS),
        "offers": [_offer(network, item) for item in found.offers],
        "displaces": [_displaced(network, item) for item in found.displaces],
        "reserve": None if found.reserve is None else _held(network, found.reserve),
        "waiting_list": [
            {
                "site": item.site,
                "date": day_text(item.day, network.first_day),
                "places": item.places,
                "chance": round(item.chance, DIGITS),
                "what": ESTIMATE,
            }
            for item in found.waiting_list
        ],
        "caution": CAUTION,
    }


def _offer(network: Network, item: Offer) -> dict[str, Any]:
    charges = item.charges
    return {
        "site": item.site,
        "station": item.station,
        "technician": item.technician,
        "start": minute_text(item.start, network.first_day),
        "told": minute_text(item.told, network.first_day),
        "minutes": item.minutes,
        "travel": item.travel,
        "delay_days": item.delay_days,
        "wait_days": item.wait_days,
        "p_wait": round(item.p_wait, DIGITS),
        "price": round(item.price, DIGITS),
        "cost": round(item.cost, DIGITS),
        "charges": {
            "late": round(charges.late, DIGITS),
            "wait": round(charges.wait, DIGITS),
            "travel": round(charges.travel, DIGITS),
            "move": round(charges.move, DIGITS),
        },
        "level": item.level,
        "current": item.current,
        "why": item.why,
    }


def _displaced(network: Network, item: Displacement) -> dict[str, Any]:
    was = item.booking
    return {
        "offer": _offer(network, item.offer),
        "moves": was.request,
        "from": {
            "site": was.site,
            "station": was.station,
            "technician": was.technician,
            "told": minute_text(was.told, network.first_day),
        },
        "to": _offer(network, item.to),
        "extra": round(item.extra, DIGITS),
        "cost": round(item.cost, DIGITS),
    }


def _held(network: Network, item: Held) -> dict[str, Any]:
    return {"offer": _offer(network, item.offer), "short_minutes": item.short}


def offers_lines(network: Network, found: Offers, reasons: Sequence[Reason] = ()) -> list[str]:
    """A table of the free times, a sentence for each, and what else could be done.

    ``reasons`` are the plan's for leaving the request out; told where there is no free time.
    """
    lines: list[str] = []
    if found.offers:
        lines += _table(network, found.offers)
        lines.append("")
        lines += _sentences(found.offers)
    else:
        lines.append(f"No free time for {found.request} keeps every rule.")
        lines += [f"The plan says why: {item.detail}; {item.remedy}." for item in reasons]
    lines.append(f"Leaving {found.request} out costs {found.unbooked:.2f}.")
    if found.displaces:
        lines += ["", "Free once somebody else moves:"]
        lines += [f" - {_move_words(network, item)}" for item in found.displaces]
        lines.append(CAUTION)
    if found.reserve is not None:
        held = found.reserve
        lines += [
            "",
            f"Kept only by the reserve for rework: {_when(network, held.offer)}; it would reach"
            f" {held.short} min into the reserve.",
        ]
    if found.waiting_list:
        lines += ["", f"Waiting list ({ESTIMATE}):"]
        lines += [
            f" - {item.site} on {day_text(item.day, network.first_day)}: {_chance(item.chance)}"
            f" that somebody does not come to one of the {item.places} places that would do"
            for item in found.waiting_list
        ]
    return lines


def _chance(chance: float) -> str:
    """In per cent; what is not certain is not called so."""
    return "over 99%" if chance > SURE else f"{chance:.0%}"


def _sentences(offers: tuple[Offer, ...]) -> list[str]:
    """Why each time is cheap or dear; times in a row of which the same is true share a line."""
    lines: list[tuple[str, str]] = []
    for why, group in groupby(enumerate(offers, 1), key=lambda pair: _mark(pair[1]) + pair[1].why):
        numbered = [number for number, _ in group]
        first, last = numbered[0], numbered[-1]
        lines.append((str(first) if first == last else f"{first} to {last}", why))
    width = max(len(number) for number, _ in lines)
    return [f"{number:>{width}}. {why}" for number, why in lines]


def _mark(item: Offer) -> str:
    return "the time it has now; " if item.current else ""


def _when(network: Network, item: Offer) -> str:
    told = minute_text(item.told, network.first_day).replace("T", " ")
    return f"{told} at {item.site}, {item.station} with {item.technician}"


def _move_words(network: Network, item: Displacement) -> str:
    was = minute_text(item.booking.told, network.first_day).replace("T", " ")
    return (
        f"{_when(network, item.offer)}, if {item.booking.request} moves from {was} at"
        f" {item.booking.site} to {_when(network, item.to)}: cost {item.cost:.2f}, of which"
        f" {item.extra:.2f} for the move"
    )


def _table(network: Network, offers: tuple[Offer, ...]) -> list[str]:
    """Aligned columns: texts at the left, numbers at the right."""
    head = (
        "told", "start", "min", "site", "station", "technician", "travel", "late days",
        f"P(wait > {network.policy.wait_minutes})", "price", "cost",
    )  # fmt: skip
    cells = [head, *(_cells(network, item) for item in offers)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(head))]
    return [
        "  ".join(
            cell.ljust(width) if column in _TEXTS else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in cells
    ]


def _cells(network: Network, item: Offer) -> tuple[str, ...]:
    return (
        minute_text(item.told, network.first_day).replace("T", " "),
        minute_text(item.start, network.first_day)[-5:],
        str(item.minutes),
        item.site,
        item.station,
        item.technician,
        str(item.travel),
        str(item.delay_days),
        f"{item.p_wait:.1%}",
        f"{item.price:.2f}",
        f"{item.cost:.2f}",
    )
