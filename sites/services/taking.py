"""A checked file is taken in: decided once, written in one go, undone whole where it fails."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import IntegrityError
from django.db.models import Q

from sites.errors import BadValue, ChangedMeanwhile
from sites.intake.known import Candidate
from sites.intake.rows import read_row, values_of
from sites.models import FindingKind, Intake, IntakeStep
from sites.selectors.intakes import around_intake, intake_rows
from sites.services.candidates import candidates_take
from sites.services.intakes import NOTHING_READ, delete_rows, forget_readings, over
from sites.services.write import written

LEASE = timedelta(minutes=5)
"""After so long without an end somebody else may take the file in; far above what it takes."""


@written
def intake_decide(*, intake: Intake, whole: bool, alike: bool) -> Intake:
    """Say that a checked file is to be taken in.

    ``whole``: only if no row has a fault. ``alike``: rows that are likely doubles too. Raises
    BadValue where nothing would be taken in, ChangedMeanwhile where the file went on.
    """
    held = Intake.objects.select_for_update().get(pk=intake.pk)
    if held.step != IntakeStep.CHECKED:
        raise over(held)
    if whole and held.faulty:
        raise BadValue(
            f"{held.faulty} of {held.rows} rows",
            "have a fault, and all rows or none were asked for",
            "correct them in the file and give it again, or take in the good rows",
        )
    if not held.good + (held.doubles if alike else 0):
        raise BadValue("the file", "has no row to take in", "leave it")
    held.step, held.whole, held.alike = IntakeStep.TAKING, whole, alike
    held.try_again, held.said = None, ""
    held.save()
    return held


def intake_take(*, intake: Intake, at: datetime) -> Intake:
    """Write a file that was decided on, in one transaction, and delete its rows.

    Where the record changed so that another result would come than was shown, nothing is written
    and the rows are read anew. Whoever calls while somebody else is at it changes nothing.
    """
    mine = Intake.objects.filter(pk=intake.pk, step=IntakeStep.TAKING).filter(
        Q(try_again__isnull=True) | Q(try_again__lt=at)
    )
    if mine.update(try_again=at + LEASE) == 1:
        intake.refresh_from_db()
        try:
            _take(intake=intake, candidates=chosen(intake), at=at)
        except (ChangedMeanwhile, IntegrityError) as error:
            said = f"{error}" if isinstance(error, ChangedMeanwhile) else "the record changed"
            _read_anew(intake=intake, said=f"Nothing was taken in: {said}.")
        except Exception:
            Intake.objects.filter(pk=intake.pk).update(try_again=None)
            raise
    intake.refresh_from_db()
    return intake


def chosen(intake: Intake) -> list[Candidate]:
    """The candidates that were decided on. Raises ChangedMeanwhile where they are others by now."""
    out = [FindingKind.FAULT, FindingKind.KNOWN]
    out += [] if intake.alike else [FindingKind.DOUBLE]
    left_out = set(intake.findings.filter(kind__in=out).values_list("number", flat=True))
    context = around_intake(intake=intake)
    found = []
    for row in intake_rows(intake=intake):
        if row.number in left_out:
            continue
        candidate = read_row(values_of(row.cells, intake.mapping), context).candidate
        if candidate is None:
            raise ChangedMeanwhile(
                f"row {row.number}", "was good and has a fault by now", "look at it"
            )
        found.append(candidate)
    return found


@written
def _take(*, intake: Intake, candidates: list[Candidate], at: datetime) -> None:
    """Write the requests and end the file, both or neither."""
    count = Intake.objects.filter(pk=intake.pk, step=IntakeStep.TAKING).update(
        step=IntakeStep.TAKEN, taken=len(candidates), ended_at=at, try_again=None
    )
    if count != 1:
        raise over(intake)
    candidates_take(candidates=candidates)
    delete_rows([intake.pk])


@written
def _read_anew(*, intake: Intake, said: str) -> None:
    """Back to reading, with a word on why."""
    anew = {**NOTHING_READ, "said": said[:300], "try_again": None}
    if Intake.objects.filter(pk=intake.pk, step=IntakeStep.TAKING).update(**anew):
        forget_readings(intake)
