"""Rows made on the way, by the ids of the network, and writing many of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from django.db.models import Model

from sites.models import Feature, Profile, Request, Site, Skill, Station, Technician
from sites.models.words import Word

BATCH = 500
M = TypeVar("M", bound=Model)
W = TypeVar("W", bound=Word)


@dataclass(slots=True)
class Keys:
    """Rows by the id that they have in the network."""

    features: dict[str, Feature] = field(default_factory=dict)
    skills: dict[str, Skill] = field(default_factory=dict)
    profiles: dict[str, Profile] = field(default_factory=dict)
    sites: dict[str, Site] = field(default_factory=dict)
    stations: dict[str, Station] = field(default_factory=dict)
    technicians: dict[str, Technician] = field(default_factory=dict)
    requests: dict[str, Request] = field(default_factory=dict)


def create(model: type[M], rows: Iterable[M]) -> list[M]:
    """Insert rows in batches."""
    return model._default_manager.bulk_create(rows, batch_size=BATCH)


def words(model: type[W], wanted: Iterable[str]) -> dict[str, W]:
    """Features or skills by code: those that are there, and new ones."""
    codes = sorted(set(wanted))
    have = {row.code: row for row in model._default_manager.all()}
    new = create(model, (model(code=code) for code in codes if code not in have))
    return {**have, **{row.code: row for row in new}}


def link(
    model: type[Model],
    name: str,
    pairs: Sequence[tuple[Model, Sequence[str]]],
    words: Mapping[str, W],
) -> None:
    """Give rows their words, through the table between them."""
    through: type[Model] = getattr(model, name).through
    own, other = f"{model._meta.model_name}_id", f"{name[:-1]}_id"
    made: list[Any] = [
        through(**{own: row.pk, other: words[code].pk})
        for row, codes in pairs
        for code in dict.fromkeys(codes)
    ]
    create(through, made)
