"""Reading the audit: newest first, by who, what and when, a part at a time however long it is."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet, Subquery

from sites.audit.actor import login
from sites.audit.sources import watched
from sites.models import AuditEntry, User

KINDS = ("command", "task", "database", "nobody")
"""Kinds of actor that are no login."""
WHATS = ("added", "changed", "removed", "emptied")


@dataclass(frozen=True, slots=True)
class Asked:
    """What is looked for; nothing of a part: all of it. ``start`` ≤ instant < ``end``.

    ``actor`` is one whole (``login:12``) or a kind alone (``command``).
    """

    actor: str = ""
    noun: str = ""
    key: int | None = None
    what: str = ""
    start: datetime | None = None
    end: datetime | None = None


def audit_entries(asked: Asked) -> QuerySet[AuditEntry]:
    """Entries by what is asked, newest first; two of one instant by their numbers."""
    rows = AuditEntry.objects.order_by("-at", "-id")
    if asked.actor in KINDS:
        rows = rows.filter(actor__startswith=f"{asked.actor}:")
    elif asked.actor:
        rows = rows.filter(actor=asked.actor)
    for name in ("noun", "what", "key"):
        value = getattr(asked, name)
        rows = rows.filter(**{name: value}) if value not in ("", None) else rows
    rows = rows.filter(at__gte=asked.start) if asked.start else rows
    return rows.filter(at__lt=asked.end) if asked.end else rows


def audit_older(rows: QuerySet[AuditEntry], last: int) -> QuerySet[AuditEntry]:
    """The entries that follow on an entry, by its number; none where there is no such entry."""
    at = Subquery(AuditEntry.objects.filter(pk=last).values("at"))
    # compared inside the database: SQLite keeps instants as text, to the millisecond; and the first
    # condition bounds the walk in the index, which no database makes of the second
    return rows.filter(at__lte=at).filter(Q(at__lt=at) | Q(pk__lt=last))


def login_names(actors: Collection[str]) -> dict[str, str]:
    """The names of the logins among actors; one that is gone has none."""
    keys = {actor.partition(":")[2] for actor in actors if actor.startswith("login:")}
    found = User.objects.filter(pk__in=[int(key) for key in keys if key.isdigit()])
    return {login(key): name for key, name in found.values_list("pk", "username")}


def nouns() -> list[str]:
    """What the audit watches, by name."""
    return sorted(source.noun for source in watched())
