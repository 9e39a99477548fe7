"""All sites and days on one page, and everybody who is not booked."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from planner.engine.plan import Unbooked
from planner.gateway.board.book import Book
from planner.gateway.board.day import Fact
from planner.gateway.board.room import Load, load_of
from planner.gateway.board.words import code_words, day_words, share
from planner.gateway.summary import cost_words, promise_words

SHADES = 5


@dataclass(frozen=True, slots=True)
class Cell:
    """A site's day: where its page is (empty: no page), what it says, and how full (0 to 5)."""

    href: str
    booked: int
    used: str
    shade: int
    says: str


@dataclass(frozen=True, slots=True)
class Line:
    """A site over the horizon."""

    name: str
    zone: str
    cells: list[Cell]
    booked: int
    used: str


@dataclass(frozen=True, slots=True)
class Cause:
    """Requests that are not booked for one reason, and what would change it for most of them."""

    words: str
    count: int
    remedy: str


@dataclass(frozen=True, slots=True)
class Left:
    """A request that is not booked."""

    request: str
    due: str
    order: int
    rework: str
    sites: str
    words: str
    detail: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Overview:
    """The first page."""

    span: str
    days: list[tuple[str, str]]
    lines: list[Line]
    totals: list[int]
    booked: int
    facts: list[Fact]
    causes: list[Cause]


def overview(book: Book, names: dict[tuple[str, int], str]) -> Overview:
    """The first page; ``names`` gives the page of every site and day that has one."""
    network, plan = book.network, book.plan
    days = range(network.days)
    loads = {(site, day): load_of(book, site, day) for site in book.sites for day in days}
    return Overview(
        span=f"{day_words(0, network.first_day)} to {day_words(days[-1], network.first_day)}",
        days=[_head(day_words(day, network.first_day)) for day in days],
        lines=[_line(book, site, loads, names) for site in book.sites],
        totals=[sum(loads[site, day].booked for site in book.sites) for day in days],
        booked=len(plan.bookings),
        facts=[
            Fact("booked", f"{len(plan.bookings):,} of {len(network.requests):,} requests"),
            Fact("not booked", f"{len(plan.unbooked):,}"),
            Fact("promise", promise_words(network, plan)),
            Fact("cost", cost_words(plan)),
        ],
        causes=_causes(plan.unbooked),
    )


def left_out(book: Book) -> list[Left]:
    """Everybody who is not booked, by due date."""
    requests = book.requests
    found = sorted(book.plan.unbooked, key=lambda item: (requests[item.request].due, item.request))
    return [
        Left(
            request=item.request,
            due=day_words(requests[item.request].due, book.network.first_day),
            order=requests[item.request].due,
            rework="rework" if requests[item.request].rework else "",
            sites=", ".join(
                book.sites[choice.site].name for choice in requests[item.request].sites
            ),
            words=code_words(reason.code),
            detail=reason.detail,
            remedy=reason.remedy,
        )
        for item in found
        for reason in item.reasons
    ]


def _head(words: str) -> tuple[str, str]:
    """A day on two lines: the day of the week, the date."""
    weekday, _, rest = words.partition(" ")
    return weekday, rest


def _line(
    book: Book, site: str, loads: dict[tuple[str, int], Load], names: dict[tuple[str, int], str]
) -> Line:
    own = [loads[site, day] for day in range(book.network.days)]
    room = sum(load.room for load in own)
    return Line(
        name=book.sites[site].name,
        zone=book.sites[site].timezone,
        cells=[
            _cell(load, names.get((site, day), ""), book.sites[site].name, day, book)
            for day, load in enumerate(own)
        ],
        booked=sum(load.booked for load in own),
        used=share(sum(load.planned for load in own) / room, 0) if room else "-",
    )


def _cell(load: Load, href: str, name: str, day: int, book: Book) -> Cell:
    used = "no room" if load.used is None else share(load.used, 0)
    shade = 0 if load.used is None else min(SHADES, int(load.used * SHADES))
    when = day_words(day, book.network.first_day)
    says = f"{name}, {when}: {load.booked} booked, {used} of the room planned"
    return Cell(href, load.booked, used, shade, says)


def _causes(unbooked: tuple[Unbooked, ...]) -> list[Cause]:
    """By leading reason, the largest first, each with its most frequent remedy."""
    counts = Counter(item.reasons[0].code for item in unbooked)
    remedies: dict[str, Counter[str]] = {code: Counter() for code in counts}
    for item in unbooked:
        remedies[item.reasons[0].code][item.reasons[0].remedy] += 1
    order = sorted(counts, key=lambda code: (-counts[code], code))
    return [
        Cause(code_words(code), counts[code], remedies[code].most_common(1)[0][0]) for code in order
    ]
