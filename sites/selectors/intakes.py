"""Files of candidates: what their rows are read by, what was found in them, whose they are."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, QuerySet

from sites.access import sees_everywhere, sites_visible
from sites.intake.columns import BY_KEY, DATES, PROBLEM
from sites.intake.dates import Written, as_written
from sites.intake.known import Around, Names, Scheme, Terms, by_name
from sites.intake.rows import values_of
from sites.intake.table import Row
from sites.models import (
    Feature,
    FindingKind,
    HomeArea,
    Intake,
    IntakeBlock,
    IntakeFinding,
    Profile,
    Programme,
    ProgrammeVersion,
    Skill,
    User,
)

SHOWN = 8
"""Rows of a preview."""


def around(
    *,
    today: date,
    order: str = "",
    programme: int | None = None,
    profile: int | None = None,
    received: date | None = None,
    seen_by: User,
) -> Around:
    """What rows are read by, in nine queries: the record's names, and the file's choices.

    Sites that somebody does not see are as if they were not set up. Whoever does not see all takes
    rows that name none for those seen: a request without any would be out of their own view.
    """
    own = sites_visible(seen_by)
    codes = dict(Programme.objects.values_list("pk", "code"))
    terms: dict[int, list[Terms]] = {pk: [] for pk in codes}
    for row in ProgrammeVersion.objects.order_by("programme", "starts_on"):
        terms[row.programme_id].append(
            Terms(row.pk, row.starts_on, row.due_days, row.validity_days)
        )
    return Around(
        today=today,
        schemes={pk: Scheme(pk, code, tuple(terms[pk])) for pk, code in codes.items()},
        programmes=names_of(Programme.objects.all()),
        profiles=names_of(Profile.objects.all()),
        sites=names_of(own),
        areas=names_of(HomeArea.objects.all()),
        features=names_of(Feature.objects.all()),
        skills=names_of(Skill.objects.all()),
        order=order,
        programme=programme,
        profile=profile,
        received=received,
        usual=() if sees_everywhere(seen_by) else tuple(own.values_list("pk", flat=True)),
    )


def names_of(rows: QuerySet[Any]) -> Names:
    """The keys of rows by code and name, in one query."""
    return by_name(rows.values_list("pk", "code", "name"))


def around_intake(*, intake: Intake) -> Around:
    """`around` with the choices made for a file; its today is the day on which it was given."""
    return around(
        today=intake.given_at.date(),
        order=intake.date_order,
        programme=intake.programme_id,
        profile=intake.profile_id,
        received=intake.received,
        seen_by=intake.by,
    )


def intake_head(*, intake: Intake) -> list[str]:
    """The heads of a file's columns; a column without one is named by its number."""
    head: list[str] = json.loads(intake.head)
    return [words or f"column {number}" for number, words in enumerate(head, start=1)]


def block_rows(block: IntakeBlock) -> list[Row]:
    """The rows of a block, opened."""
    return [Row(number, tuple(cells)) for number, cells in json.loads(block.cells)]


def intake_rows(*, intake: Intake) -> Iterator[Row]:
    """All rows of a file in order, a block at a time."""
    for block in intake.blocks.order_by("first"):
        yield from block_rows(block)


def intake_sample(*, intake: Intake) -> list[Row]:
    """The first rows of a file, for a preview."""
    block = intake.blocks.order_by("first").first()
    return block_rows(block)[:SHOWN] if block else []


def intake_dates(*, intake: Intake, mapping: list[str]) -> Written | None:
    """What the order of day and month matters for in the columns that hold dates."""
    keep = [key if key in DATES else "" for key in mapping]
    return as_written(
        cell for row in intake_rows(intake=intake) for cell in values_of(row.cells, keep).values()
    )


def intakes_of(*, user: User) -> QuerySet[Intake]:
    """The files that somebody gave: nobody else sees their rows."""
    return Intake.objects.filter(by=user).select_related("programme", "profile", "by")


def intakes_recent(*, most: int = 20) -> list[Intake]:
    """The files that were given last, with who gave them."""
    return list(Intake.objects.select_related("by")[:most])


@dataclass(frozen=True, slots=True)
class Finding:
    """Something about a cell: the row's number, the column's head, the value, problem, remedy."""

    number: int
    kind: str
    column: str
    value: str
    problem: str
    remedy: str


def findings(*, intake: Intake, kinds: list[str]) -> QuerySet[IntakeFinding]:
    """What was found in a file, by row."""
    return intake.findings.filter(kind__in=kinds).order_by("number", "pk")


def finding_counts(*, intake: Intake) -> list[tuple[str, str, str, int]]:
    """Column, problem, remedy and how often it occurs, of each fault; the most frequent first."""
    rows = intake.findings.filter(kind=FindingKind.FAULT).order_by()
    counts = rows.values_list("column", "problem", "remedy").annotate(count=Count("pk"))
    return list(counts.order_by("-count", "column", "problem"))


def with_values(*, intake: Intake, found: list[IntakeFinding]) -> list[Finding]:
    """Findings with the values of their cells, which stand in the sealed rows only."""
    numbers = {each.number for each in found}
    if not numbers:
        return []
    blocks = intake.blocks.filter(first__lte=max(numbers)).order_by("first")
    firsts = list(blocks.values_list("first", flat=True))
    wanted = {max(first for first in firsts if first <= number) for number in numbers}
    cells: dict[int, dict[str, str]] = {}
    for block in blocks.filter(first__in=wanted):
        for row in block_rows(block):
            if row.number in numbers:
                cells[row.number] = values_of(row.cells, intake.mapping)
    heads = column_heads(intake=intake)
    return [
        Finding(
            each.number,
            each.kind,
            heads.get(each.column, ""),
            cells.get(each.number, {}).get(each.column, ""),
            each.problem,
            each.remedy,
        )
        for each in found
    ]


def column_heads(*, intake: Intake) -> dict[str, str]:
    """The file's own head of each column in use; our words for a column that it has not."""
    own = dict(zip(intake.mapping, intake_head(intake=intake), strict=False))
    return {key: own.get(key, column.words) for key, column in BY_KEY.items()}


def intake_with_problems(*, intake: Intake) -> Iterator[list[str]]:
    """Head and rows of a file with what is wrong in the last column."""
    said: dict[int, list[str]] = defaultdict(list)
    heads = column_heads(intake=intake)
    kinds = [FindingKind.FAULT, FindingKind.DOUBLE, FindingKind.KNOWN]
    for each in findings(intake=intake, kinds=[*map(str, kinds)]):
        said[each.number].append(f"{heads[each.column]} {each.problem}: {each.remedy}")
    own = intake_head(intake=intake)
    keep = [number for number, words in enumerate(own) if words.casefold() != PROBLEM]
    yield [*(own[number] for number in keep), PROBLEM]
    for row in intake_rows(intake=intake):
        yield [*(row.cells[number] for number in keep), "; ".join(said[row.number])]
