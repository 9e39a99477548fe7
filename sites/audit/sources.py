"""Which tables the audit watches, and of which columns it keeps what was in them.

A column is kept by its name alone until its kind says that it cannot tell about a person: numbers,
dates, yes or no, links, codes and words chosen from a list. Text that somebody types is never kept,
and nothing of `SILENT` tables is.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain

from django.apps import apps
from django.db import models

TABLE = "record_auditentry"
LOUD = (
    models.IntegerField,
    models.FloatField,
    models.DecimalField,
    models.BooleanField,
    models.DateField,
    models.TimeField,
    models.DurationField,
    models.SlugField,
    models.ForeignKey,
)
SILENT = frozenset({"subject", "missingfinger", "attempt"})
"""Tables that are about a person's contact, hands or needs in every column."""
UNHEARD: dict[str, frozenset[str]] = {
    "planrun": frozenset(
        {
            *("sent_at", "lease_until", "heard_at", "stage"),
            *("objective", "bound", "gap", "booked", "unbooked"),
        }
    ),
    "notice": frozenset({"lease_until", "handing_at"}),
    "intake": frozenset({"checked", "good", "faulty", "known", "doubles", "try_again"}),
    "apitoken": frozenset({"seen_at"}),
}
"""Columns that no entry is written for when nothing else changes: signs of life of a worker."""
UNWATCHED = frozenset(
    {"planresult", "runpart", "siteprice", "leftout", "apicall", "intakeblock", "intakefinding"}
)
"""What a run works out and the next one replaces whole (the run's row has the digests); the
answers that are kept for a day for calls that are sent again; and the rows of a list that waits to
be taken in: the intake's row says what became of it, and every request and person that it makes
has an entry."""
GROUPS = (("auth", "group"), ("auth", "group_permissions"))
"""What Django's groups may do follows from these."""


@dataclass(frozen=True, slots=True)
class Watched:
    """A table that the audit watches: ``noun`` is what the audit calls it, ``key`` numbers rows.

    Of ``loud`` columns values are kept, of ``heard`` ones that they changed. ``whole`` tables,
    which link two others, have their values kept when a row comes as well.
    """

    noun: str
    table: str
    key: str
    loud: tuple[str, ...]
    heard: tuple[str, ...]
    whole: bool


def watched() -> list[Watched]:
    """Every table of the record that is not made by triggers itself, and who is in which group."""
    record = apps.get_app_config("record").get_models(include_auto_created=True)
    groups = (model for model in apps.get_app_config("auth").get_models(include_auto_created=True))
    wanted = (model for model in groups if (model._meta.app_label, name_of(model)) in GROUPS)
    return [
        described(model)
        for model in chain(record, wanted)
        if model._meta.managed and name_of(model) not in UNWATCHED
    ]


def name_of(model: type[models.Model]) -> str:
    """A model's name in lower case."""
    return str(model._meta.model_name)


def described(model: type[models.Model]) -> Watched:
    """A model as the audit sees it."""
    noun = name_of(model)
    columns = [field for field in model._meta.concrete_fields if not field.primary_key]
    return Watched(
        noun,
        model._meta.db_table,
        str(model._meta.pk.column),
        tuple(str(field.column) for field in columns if noun not in SILENT and is_loud(field)),
        tuple(str(each.column) for each in columns if each.column not in UNHEARD.get(noun, ())),
        bool(model._meta.auto_created),
    )


def is_loud(field: models.Field) -> bool:  # type: ignore[type-arg]
    """Whether what is in the column cannot tell about a person."""
    return isinstance(field, LOUD) or (isinstance(field, models.CharField) and bool(field.choices))
