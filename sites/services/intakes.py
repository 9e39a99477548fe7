"""Files of candidates: given, their columns confirmed, their rows read piece by piece, left."""

from __future__ import annotations

import json
import secrets
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import QuerySet

from sites.errors import BadValue, ChangedMeanwhile
from sites.intake.columns import BY_KEY, COLUMNS, PROBLEM, folded, matched
from sites.intake.dates import ORDERS
from sites.intake.known import Around, Read
from sites.intake.rows import read_row, values_of
from sites.intake.table import Table
from sites.models import (
    FindingKind,
    Intake,
    IntakeBlock,
    IntakeFinding,
    IntakeStep,
    Profile,
    Programme,
    User,
)
from sites.selectors.external import people_known, references_taken
from sites.selectors.intakes import around_intake, block_rows, intake_dates
from sites.services.doubles import find_doubles, keys_of
from sites.services.write import written

BLOCK = 500
BLOCKS_AT_ONCE = 4
KEPT = timedelta(days=1)
"""How long the rows of a file are kept at most; ours."""
CHOOSABLE = [IntakeStep.COLUMNS, IntakeStep.CHECKING, IntakeStep.CHECKED]
OPEN = [*CHOOSABLE, IntakeStep.TAKING]


@written
def intake_give(*, table: Table, file_name: str, by: User, at: datetime, code: str = "") -> Intake:
    """Keep a file, sealed, with the columns matched by their heads."""
    mapping = ["" if folded(words) == PROBLEM else words for words in table.head]
    intake = Intake.objects.create(
        code=code or secrets.token_hex(6),
        by=by,
        given_at=at,
        file_name=file_name[:200],
        kind=table.kind,
        read_as=table.read_as[:200],
        delimiter=table.delimiter,
        head=json.dumps(table.head),
        mapping=matched(mapping),
        rows=len(table.rows),
    )
    starts = range(0, len(table.rows), BLOCK)
    parts = [table.rows[start : start + BLOCK] for start in starts]
    IntakeBlock.objects.bulk_create(
        IntakeBlock(
            intake=intake,
            first=part[0].number,
            rows=len(part),
            cells=json.dumps([(row.number, row.cells) for row in part]),
        )
        for part in parts
    )
    return intake


@written
def intake_choose(
    *,
    intake: Intake,
    mapping: list[str],
    order: str = "",
    programme: Programme | None = None,
    profile: Profile | None = None,
    received: date | None = None,
) -> Intake:
    """Confirm the columns and what holds for the whole file; its rows are read anew from here.

    Raises BadValue where a column stands twice, the reference is missing, or dates mean nothing
    without an ``order``; ChangedMeanwhile where the file is being taken in or is over.
    """
    if intake.step not in CHOOSABLE:
        raise over(intake)
    used = [key for key in mapping if key]
    if len(mapping) != len(json.loads(intake.head)) or not set(used) <= set(BY_KEY):
        raise BadValue("the columns", "are not those of this file", "open the file's page again")
    for key in used:
        if used.count(key) > 1:
            raise BadValue(
                BY_KEY[key].words, "is chosen for two columns", "choose one of them for it"
            )
    if "reference" not in used:
        raise BadValue(
            COLUMNS[0].words, "is in no column", "say which column holds the request's reference"
        )
    if order and order not in ORDERS:
        raise BadValue(order, "is no order of day and month", "choose one of those offered")
    if not order and intake_dates(intake=intake, mapping=mapping):
        raise BadValue(
            "the order of day and month",
            "is not said, and it is not guessed",
            "say how the dates of this file are written",
        )
    count = Intake.objects.filter(pk=intake.pk, step__in=CHOOSABLE).update(
        mapping=mapping,
        date_order=order,
        programme=programme,
        profile=profile,
        received=received,
        said="",
        **NOTHING_READ,
    )
    if count != 1:
        raise over(intake)
    forget_readings(intake)
    intake.refresh_from_db()
    return intake


NOTHING_READ: dict[str, Any] = {
    "step": IntakeStep.CHECKING,
    "checked": 0,
    "good": 0,
    "faulty": 0,
    "known": 0,
    "doubles": 0,
}


def forget_readings(intake: Intake) -> None:
    """Forget what was found in the rows."""
    intake.findings.all().delete()
    intake.blocks.update(keys=None)


def over(intake: Intake) -> ChangedMeanwhile:
    """What to say where a file went on without the caller."""
    return ChangedMeanwhile(
        f"file {intake.code}", "has gone on meanwhile", "open its page again and look at its step"
    )


@written
def intake_read(*, intake: Intake) -> Intake:
    """Read the next rows, or, after the last, look for doubles; call it until it is checked.

    Two callers at once read the same rows; the one who comes second changes nothing.
    """
    held = Intake.objects.select_for_update().get(pk=intake.pk)
    if held.step != IntakeStep.CHECKING:
        return held
    blocks = list(held.blocks.filter(keys__isnull=True).order_by("first")[:BLOCKS_AT_ONCE])
    if blocks:
        context = around_intake(intake=held)
        for block in blocks:
            read_block(held, block, context)
        held.checked += sum(block.rows for block in blocks)
    else:
        find_doubles(intake=held)
        held.step = IntakeStep.CHECKED
        count_rows(held)
    held.save()
    return held


def read_block(intake: Intake, block: IntakeBlock, context: Around) -> None:
    """Read a block's rows and keep what was found, with the keys to find doubles by."""
    reads = [
        (row.number, read_row(values_of(row.cells, intake.mapping), context))
        for row in block_rows(block)
    ]
    good = {number: read.candidate for number, read in reads if read.candidate}
    taken = references_taken(list(good.values()))
    people = people_known(list(good.values()))
    found: list[IntakeFinding] = []
    for number, read in reads:
        found += [finding(intake, number, kind, *words) for kind, *words in said(read)]
        if read.candidate is None:
            continue
        if (read.candidate.programme, read.candidate.reference) in taken:
            words = ("reference", "is in the record already", "nothing to do: the row is left out")
            found.append(finding(intake, number, FindingKind.KNOWN, *words))
        elif read.candidate.subject in people:
            words = (
                "subject",
                "is a person of the record",
                "the request is added to that person, whose name and contact stay as they are",
            )
            found.append(finding(intake, number, FindingKind.NOTE, *words))
    IntakeFinding.objects.bulk_create(found, batch_size=2000)
    block.keys = [keys_of(number, one) for number, one in good.items()]
    block.save(update_fields=["keys"])


def said(read: Read) -> list[tuple[FindingKind, str, str, str]]:
    """The faults of a row, and what is good to know of one without."""
    one = read.candidate
    if one is None:
        return [(FindingKind.FAULT, each.column, each.problem, each.remedy) for each in read.faults]
    if not (one.subject or one.phone or one.email):
        remedy = "add a phone number or a mail address, or nobody can be told of an appointment"
        return [(FindingKind.NOTE, "phone", "no contact is given", remedy)]
    return []


def finding(intake: Intake, number: int, kind: FindingKind, *words: str) -> IntakeFinding:
    """A finding, unsaved."""
    column, problem, remedy = words
    return IntakeFinding(
        intake=intake,
        number=number,
        kind=kind,
        column=column,
        problem=problem[:200],
        remedy=remedy[:200],
    )


def count_rows(intake: Intake) -> None:
    """Set the counts: every row is good, faulty, known or a double, in this order of precedence."""
    by_kind: dict[str, set[int]] = {kind: set() for kind in FindingKind.values}
    for number, kind in intake.findings.values_list("number", "kind"):
        by_kind[kind].add(number)
    faulty = by_kind[FindingKind.FAULT]
    known = by_kind[FindingKind.KNOWN] - faulty
    doubles = by_kind[FindingKind.DOUBLE] - faulty - known
    intake.faulty, intake.known, intake.doubles = len(faulty), len(known), len(doubles)
    intake.good = intake.rows - intake.faulty - intake.known - intake.doubles


@written
def intake_leave(*, intake: Intake, at: datetime) -> Intake:
    """Leave a file: its rows are deleted and nothing is taken in."""
    count = Intake.objects.filter(pk=intake.pk, step__in=OPEN).update(
        step=IntakeStep.LEFT, ended_at=at
    )
    if count != 1:
        raise over(intake)
    delete_rows([intake.pk])
    intake.refresh_from_db()
    return intake


@written
def intakes_forget(*, at: datetime) -> int:
    """Leave every file that was given more than a day ago; how many there were."""
    old = intakes_old(at=at)
    keys = list(old.values_list("pk", flat=True))
    if keys:
        words = "It was left because a day had passed."
        old.update(step=IntakeStep.LEFT, ended_at=at, said=words)
        delete_rows(keys)
    return len(keys)


def intakes_old(*, at: datetime) -> QuerySet[Intake]:
    """Files that have waited for a day."""
    return Intake.objects.filter(step__in=OPEN, given_at__lt=at - KEPT)


def delete_rows(keys: list[int]) -> None:
    """Delete the rows of files, their heads and names, and what was found in them.

    A file without a head has a person's row in its place.
    """
    Intake.objects.filter(pk__in=keys).update(file_name="", head="[]", mapping=[])
    IntakeFinding.objects.filter(intake__in=keys).delete()
    IntakeBlock.objects.filter(intake__in=keys).delete()
