"""The pages as text: which there are, how they are linked, and the templates filled in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.template.loader import render_to_string

from planner.engine.units import day_text
from planner.gateway.board.book import Book, SiteDay
from planner.gateway.board.day import day_page
from planner.gateway.board.overview import left_out, overview
from planner.gateway.board.rows import Ends
from planner.gateway.board.words import day_words, slugs

Names = dict[SiteDay, str]


@dataclass(frozen=True, slots=True)
class Link:
    """A way to another page; ``href`` empty where there is none (said, not linked)."""

    href: str
    words: str


def page_names(book: Book) -> Names:
    """The file of every site and day that has a page, below the board's folder."""
    names = slugs(list(book.sites))
    return {
        (site, day): f"days/{names[site]}_{day_text(day, book.network.first_day)}.html"
        for site in book.sites
        for day in book.working_days(site)
    }


def pages(book: Book, names: Names, ends: Ends) -> Iterator[tuple[str, str]]:
    """Every page as (file, text)."""
    home = {"root": "", "home": "index.html", "left": "not-booked.html"}
    below = {key: f"../{path}" for key, path in home.items()}
    yield home["home"], _page("index", home, page=overview(book, names))
    yield home["left"], _page("not_booked", home, lines=left_out(book))
    for (site, day), name in names.items():
        text = _page(
            "day",
            below,
            page=day_page(book, site, day, ends),
            before=_near(book, names, site, range(day - 1, -1, -1)),
            after=_near(book, names, site, range(day + 1, book.network.days)),
            sites=[
                Link(names[other, day].removeprefix("days/"), book.sites[other].name)
                for other in book.sites
                if (other, day) in names and other != site
            ],
        )
        yield name, text


def _page(template: str, links: dict[str, str], **context: object) -> str:
    return render_to_string(f"planner/{template}.html", {**links, **context})


def _near(book: Book, names: Names, site: str, days: range) -> Link | None:
    """The nearest page of the same site among ``days``."""
    for day in days:
        if (site, day) in names:
            href = names[site, day].removeprefix("days/")
            return Link(href, day_words(day, book.network.first_day))
    return None
