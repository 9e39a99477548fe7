"""Requests that somebody ticked in the list, kept in their session while they decide what to do.

An address that named a thousand requests would be too long. So the list sends ticks in a body, the
session keeps the keys under a code that says nothing, and the pages that follow carry the code.
Two sets can be decided on in two tabs without getting into each other's way.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from hashlib import sha256
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.views import View

from planner.web.access import Asks
from planner.web.listed import listed
from planner.web.now import today
from sites.access import ensure, may, requests_visible
from sites.errors import BadValue
from sites.models import User
from sites.selectors.chosen import Verdict

KEY = "chosen"
SETS = 3
"""Sets that a session remembers; the oldest is forgotten."""
MOST = 2000
"""Requests that one set can have."""


@dataclass(frozen=True, slots=True)
class Act:
    """What can be done with many: the word of its button, and the rule of its page."""

    name: str
    word: str
    rule: str


ACTS = (
    Act("plan", "Plan them", "runs.start"),
    Act("hold", "Put on hold", "requests.change"),
    Act("release", "Release", "requests.change"),
    Act("sites", "Change sites", "requests.change"),
)


def acts_of(user: User) -> list[Act]:
    """What somebody may do with many requests."""
    return [act for act in ACTS if may(user, act.rule)]


@dataclass(slots=True)
class Chosen:
    """A set: keys in the list's order, how many more there were, and the list it came from.

    ``seen`` is what the question was judged on, by key; ``done`` and ``skipped`` are what came of
    it, once it was decided.
    """

    code: str
    keys: list[int]
    more: int = 0
    query: str = ""
    seen: dict[str, str] = field(default_factory=dict)
    done: int | None = None
    said: str = ""
    skipped: list[tuple[str, str]] = field(default_factory=list)

    @property
    def back(self) -> str:
        """The list that it came from."""
        return f"{reverse('requests')}?{self.query}" if self.query else reverse("requests")

    def look(self, verdicts: Mapping[int, Verdict]) -> str:
        """Take note of what a question shows; its digest goes into the form."""
        self.seen = {str(key): short(verdict) for key, verdict in verdicts.items()}
        return self.digest

    @property
    def digest(self) -> str:
        """A digest of what the question showed."""
        return sha256(json.dumps(self.seen, sort_keys=True).encode()).hexdigest()[:16]

    def seen_of(self, verdicts: Mapping[int, Verdict]) -> dict[int, str]:
        """What was seen, by key, in full where it is still so."""
        return {
            key: verdict.seen if self.seen.get(str(key)) == short(verdict) else ""
            for key, verdict in verdicts.items()
        }


def short(verdict: Verdict) -> str:
    """A few signs for what a request was judged on."""
    return sha256(verdict.seen.encode()).hexdigest()[:8]


def keep(session: Any, one: Chosen) -> None:
    """Keep a set."""
    kept = {name: value for name, value in session.get(KEY, {}).items() if name != one.code}
    kept[one.code] = asdict(one)
    session[KEY] = dict(list(kept.items())[-SETS:])


def kept_set(session: Any, code: str) -> Chosen | None:
    """A set by its code; None where it was forgotten or is somebody else's."""
    found = session.get(KEY, {}).get(code)
    return Chosen(**found) if found else None


def chosen_of(keys: Iterable[int], *, more: int = 0, query: str = "") -> Chosen:
    """A new set."""
    return Chosen(secrets.token_hex(6), list(keys), more, query)


class Choose(Asks, View):
    """From ticks in the list to the page that asks what is to be done with them."""

    rule = "requests.see"

    def get(self, request: HttpRequest) -> HttpResponse:
        """There is nothing to look at here, such as after a sign-in on the way."""
        return redirect("requests")

    def post(self, request: HttpRequest) -> HttpResponse:
        """Keep the set and go on. Raises BadValue for an act that does not exist."""
        asked = {act.name: act for act in ACTS}.get(request.POST.get("act", ""))
        if asked is None:
            raise BadValue("the form", "asks for nothing", "use one of its buttons")
        ensure(self.user, asked.rule)
        query = QueryDict(request.POST.get("shown", ""))
        one = self.all_shown(query) if request.POST.get("every") else self.ticked(query)
        if one is None or not one.keys:
            words = (
                "A filter of the list was refused, so all that it shows may be more than you meant."
                if one is None
                else "No request was ticked."
            )
            messages.warning(request, f"{words} Nothing was done.")
            return redirect(f"{reverse('requests')}?{query.urlencode()}")
        keep(request.session, one)
        return redirect(f"chosen-{asked.name}", one.code)

    def all_shown(self, query: QueryDict) -> Chosen | None:
        """All that the filters show, `MOST` at most; None where a filter was refused."""
        found = listed(query, user=self.user, today=today())
        if found.filters.errors:
            return None
        keys = found.ranking.keys
        return chosen_of(
            found.ranking.page(0, MOST), more=max(0, len(keys) - MOST), query=query.urlencode()
        )

    def ticked(self, query: QueryDict) -> Chosen:
        """What was ticked, of what somebody may see, in the order of the list."""
        names = self.request.POST.getlist("on")
        rows = requests_visible(self.user).filter(reference__in=names[:MOST]).order_by()
        known = dict(rows.values_list("reference", "pk"))
        keys = [known[name] for name in dict.fromkeys(names) if name in known]
        return chosen_of(keys, more=max(0, len(names) - MOST), query=query.urlencode())
