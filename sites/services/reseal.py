"""Writing anew under the newest key what is sealed with an older one, a batch at a time.

No mark says what was done: each token is asked whether the newest key opens it, so that a run that
was cut short goes on, and one that is repeated finds nothing to do.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db.models import Model, QuerySet, TextField, Value
from django.db.models.functions import Cast

from sites.crypto import Seal, resealed, seal_of
from sites.models.sealed import SealedField
from sites.services.write import written


@dataclass(frozen=True, slots=True)
class Seen:
    """Texts of some rows by how they are sealed, and the key of the last row; None: no row is left.

    ``strange`` are those that no key opens, the first of them in row ``first``.
    """

    newest: int = 0
    older: int = 0
    strange: int = 0
    first: int | None = None
    last: int | None = None

    def __add__(self, other: Seen) -> Seen:
        """Both together."""
        return Seen(
            self.newest + other.newest,
            self.older + other.older,
            self.strange + other.strange,
            other.first if self.first is None else self.first,
            other.last,
        )


def sealed_tables() -> Iterator[tuple[type[Model], tuple[str, ...]]]:
    """Every table of the record with sealed columns, and these."""
    for model in apps.get_app_config("record").get_models():
        fields = model._meta.concrete_fields
        columns = tuple(each.name for each in fields if isinstance(each, SealedField))
        if columns:
            yield model, columns


def raw(model: type[Model], columns: tuple[str, ...], after: int) -> QuerySet[Any]:
    """The rows above a key in order, their sealed texts as tokens that nobody opens."""
    tokens = {f"raw_{name}": Cast(name, TextField()) for name in columns}
    rows = model._default_manager.filter(pk__gt=after).order_by("pk").annotate(**tokens)
    found: QuerySet[Any] = rows.values_list("pk", *tokens)
    return found


def seals_seen(*, model: type[Model], columns: tuple[str, ...], after: int, most: int) -> Seen:
    """How at most so many rows above a key are sealed; one query, nothing is written."""
    return seen([*raw(model, columns, after)[:most]])


@written
def seals_renew(*, model: type[Model], columns: tuple[str, ...], after: int, most: int) -> Seen:
    """The same, and what was sealed with an older key is sealed with the newest one.

    The rows are locked meanwhile. What no key opens stays as it is.
    """
    rows = [*raw(model, columns, after).select_for_update(no_key=True)[:most]]
    for key, *tokens in rows:
        anew = {
            name: Value(resealed(token), TextField())
            for name, token in zip(columns, tokens, strict=True)
            if token and seal_of(token) is Seal.OLDER
        }
        if anew:
            model._default_manager.filter(pk=key).update(**anew)
    return seen(rows)


def seen(rows: list[Any]) -> Seen:
    """Count the tokens of rows."""
    found = dict.fromkeys(Seal, 0)
    first = None
    for key, *tokens in rows:
        for token in tokens:
            if token:
                seal = seal_of(token)
                found[seal] += 1
                if seal is Seal.STRANGE and first is None:
                    first = key
    last = rows[-1][0] if rows else None
    return Seen(found[Seal.NEWEST], found[Seal.OLDER], found[Seal.STRANGE], first, last)
