"""The audit: who did what to which row when; for auditors, who change nothing."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, cast

from django import forms
from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.http import HttpRequest, StreamingHttpResponse
from django.views import View

from planner.web.access import Asks, Page
from sites.audit.actor import login
from sites.intake.out import guarded
from sites.models import AuditEntry, User
from sites.selectors.audit import (
    WHATS,
    Asked,
    audit_entries,
    audit_older,
    login_names,
    nouns,
)

PAGE = 50
KIND_WORDS = {
    "command": "any command",
    "task": "any background task",
    "database": "past the program",
    "nobody": "not signed in",
}
ACTOR = re.compile(r"(?:login|command|task|database|nobody):[A-Za-z0-9_.:-]{1,72}")
CODES = ("code", "reference", "control_number")
HEADS = ("at_utc", "actor", "login", "what", "noun", "key", "changes", "request")


class Filters(forms.Form):
    """What a URL can ask of the audit."""

    who = forms.ChoiceField(required=False)
    noun = forms.ChoiceField(required=False, label="What")
    record = forms.CharField(
        required=False, max_length=64, label="Which", widget=forms.TextInput({"size": 12})
    )
    done = forms.ChoiceField(required=False)
    first = forms.DateField(
        required=False, label="From", widget=forms.DateInput({"type": "date"}, "%Y-%m-%d")
    )
    last = forms.DateField(
        required=False, label="To", widget=forms.DateInput({"type": "date"}, "%Y-%m-%d")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = User.objects.order_by("username").values_list("pk", "username")
        who = [*((login(key), name) for key, name in people), *KIND_WORDS.items()]
        asked = f"{self.data.get('who', '')}"
        if ACTOR.fullmatch(asked) and asked not in dict(who):
            who.append((asked, who_words(asked)))  # one command, or a login that is gone
        self.choose("who", who)
        self.choose("noun", [(noun, words(noun)) for noun in nouns()])
        self.choose("done", [(what, what) for what in WHATS])

    def choose(self, name: str, choices: list[tuple[str, str]]) -> None:
        """Set the choices of a field, with a word for no choice."""
        cast(forms.ChoiceField, self.fields[name]).choices = [("", "any"), *choices]

    def clean(self) -> dict[str, Any]:
        """The row's number: as it was given, or found by its code."""
        found = super().clean() or {}
        found["key"] = None
        if text := found.get("record"):
            found["key"] = self.row(found.get("noun") or "", text)
        return found

    def row(self, noun: str, text: str) -> int | None:
        """A row's number; a row that is gone is found by its number alone."""
        if not noun:
            self.add_error("record", "choose what it is as well")
            return None
        model = model_of(noun)
        for name in CODES:
            try:
                model._meta.get_field(name)
            except FieldDoesNotExist:
                continue
            if key := model._default_manager.filter(**{name: text}).values_list("pk").first():
                return int(key[0])
        if number(text):
            return int(text)
        self.add_error("record", "is no code of a row that is there and no number")
        return None

    def asked(self) -> Asked:
        """What is looked for. A filter that was refused is not used."""
        self.is_valid()
        values = self.cleaned_data
        last: date | None = values.get("last")
        return Asked(
            actor=values.get("who") or "",
            noun=values.get("noun") or "",
            key=values.get("key"),
            what=values.get("done") or "",
            start=midnight(values.get("first")),
            end=midnight(last + timedelta(days=1)) if last and last < date.max else None,
        )


def number(text: str) -> bool:
    """Whether a text is the number of a row."""
    return text.isascii() and text.isdigit() and len(text) < 19


def midnight(day: date | None) -> datetime | None:
    """When a day begins in UTC."""
    return datetime.combine(day, time(), UTC) if day else None


def model_of(noun: str) -> Any:
    """The model that the audit calls so."""
    label = "auth" if noun.startswith("group") else "record"
    return apps.get_app_config(label).get_model(noun, require_ready=True)


def words(noun: str) -> str:
    """A noun as people say it."""
    try:
        return str(model_of(noun)._meta.verbose_name).replace("_", " ")
    except LookupError:  # a table of an earlier release
        return noun


def who_words(actor: str) -> str:
    """An actor in words; a login by its number, for one that is gone."""
    kind, _, rest = actor.partition(":")
    if kind == "login":
        return f"login {rest}, no longer there"
    if kind == "nobody":
        return "not signed in"
    return f"{'role ' if kind == 'database' else ''}{rest} ({kind})"


@dataclass(frozen=True, slots=True)
class Line:
    """An entry with who did it, and what changed as (column, words)."""

    entry: AuditEntry
    name: str

    @property
    def who(self) -> str:
        """The login's name, else what the actor is."""
        return self.name or who_words(self.entry.actor)

    @property
    def noun(self) -> str:
        """What it was done to."""
        return words(self.entry.noun)

    @property
    def changes(self) -> list[tuple[str, str]]:
        """Columns with their values, or the word for what is not kept."""
        found = []
        for column, value in self.entry.changes.items():
            if not isinstance(value, list):
                said = shown(value)
            else:
                said = f"{shown(value[0])} → {shown(value[1])}" if value else "changed, not kept"
            found.append((column.removesuffix("_id").replace("_", " "), said))
        return found


def shown(value: Any) -> str:
    """A value as it is kept; a word where there is none."""
    return "none" if value is None or value == "" else f"{value}"


class AuditPage(Page):
    """Who did what to which row, when, newest first."""

    rule = "audit.see"
    template_name = "web/audit.html"
    fragment = "web/audit_results.html"
    place = "set-up"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """One part of the entries: a fixed number of queries however many there are."""
        filters = Filters(self.request.GET)
        rows = audit_entries(filters.asked())
        after = self.request.GET.get("after", "")
        wrong = bool(after) and not number(after)
        rows = audit_older(rows, int(after)) if number(after) else rows
        refused = bool(filters.errors) and "record" in filters.errors
        found = [] if refused else list(rows[: PAGE + 1])
        lines, more = found[:PAGE], len(found) > PAGE
        names = login_names({entry.actor for entry in lines})
        return super().get_context_data(
            filters=filters,
            wrong=wrong,
            lines=[Line(entry, names.get(entry.actor, "")) for entry in lines],
            after=after and not wrong,
            older=lines[-1].pk if more else "",
            **kwargs,
        )


class AuditFile(Asks, View):
    """The same entries as CSV, all of them, row by row as they are read."""

    rule = "audit.see"

    def get(self, request: HttpRequest) -> StreamingHttpResponse:
        """Send the file. Instants are in UTC, changes are JSON."""
        filters = Filters(request.GET)
        asked = filters.asked()
        rows = AuditEntry.objects.none() if filters.errors else audit_entries(asked)
        answer = StreamingHttpResponse(lines_of(rows), content_type="text/csv; charset=utf-8")
        answer["Content-Disposition"] = 'attachment; filename="audit.csv"'
        answer["Cache-Control"] = "private, no-store"
        return answer


class Echo:
    """Gives back what the CSV writer writes."""

    def write(self, text: str) -> str:
        """The text."""
        return text


def lines_of(rows: Any) -> Iterator[str]:
    """The lines of the file."""
    people = User.objects.values_list("pk", "username")
    names = {login(key): name for key, name in people.iterator()}
    writer = csv.writer(Echo())
    yield writer.writerow(HEADS)
    for entry in rows.iterator(chunk_size=2000):
        yield writer.writerow(
            [
                entry.at.astimezone(UTC).isoformat(),
                entry.actor,
                guarded(names.get(entry.actor, "")),
                entry.what,
                entry.noun,
                "" if entry.key is None else entry.key,
                json.dumps(entry.changes, sort_keys=True),
                entry.request,
            ]
        )
