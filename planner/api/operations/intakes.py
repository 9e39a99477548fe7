"""Lists of candidates: given as a file, columns confirmed, rows read, taken in or left."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, ClassVar

from django.db.models import QuerySet
from django.urls import reverse
from rest_framework.response import Response

from planner.api.files import FileRead
from planner.api.filters import Filters, OneOf
from planner.api.find import named, one
from planner.api.operation import Act, Listing, Read, Unkept
from planner.api.pages import Orders
from planner.api.shapes import intakes as shapes
from planner.gateway.present import now
from sites.intake.columns import COLUMNS
from sites.intake.files import read_table
from sites.intake.out import template_csv, template_xlsx
from sites.intake.table import MOST_BYTES
from sites.models import FindingKind, Intake, IntakeStep, Profile, Programme, User
from sites.selectors.intakes import (
    intake_dates,
    intake_head,
    intake_sample,
    intake_with_problems,
    intakes_of,
    with_values,
)
from sites.services.intakes import (
    intake_choose,
    intake_give,
    intake_leave,
    intake_read,
    intakes_forget,
)
from sites.services.taking import intake_decide, intake_take


def given(user: User) -> QuerySet[Intake]:
    """One's own lists; those that waited for a day are left first, as on the page."""
    intakes_forget(at=now())
    return intakes_of(user=user)


def asked(user: User, path: dict[str, Any]) -> Intake:
    """One's own list of an address. Raises Http404."""
    found: Intake = one(given(user), "list", code=path["intake"])
    return found


class IntakeFilters(Filters):
    """Lists by how far they are."""

    step = OneOf(IntakeStep.values, label="How far it is.")


class IntakesList(Listing):
    """The lists of candidates that you gave; nobody else sees them."""

    rule, tag, gives, filters = "intake.change", "intake", shapes.IntakeShape, IntakeFilters
    orders: ClassVar[Orders] = {"-given": ("-given_at", "-pk"), "given": ("given_at", "pk")}

    def rows(self, user: User) -> QuerySet[Any]:
        """Lists."""
        return given(user)


class IntakeRead(Read):
    """A list of candidates, and how far it is."""

    rule, tag, gives = "intake.change", "intake", shapes.IntakeShape

    def find(self, user: User, **path: Any) -> Any:
        """By its code."""
        return asked(user, path)


class IntakeGive(Act):
    """Give a list of candidates as a file, CSV or XLSX, with its columns in any order.

    Nothing is taken in by this: columns are matched by their heads, to be confirmed. Rows are
    sealed from the moment they arrive, and deleted once they are taken in or left, or after a day.
    Leave out every column that the work does not need.
    """

    rule, tag, takes, gives = "intake.change", "intake", shapes.IntakeIn, shapes.IntakeShape
    takes_form, rate = True, "heavy"

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Read and keep it."""
        file = values["file"]
        table = read_table(
            file.read(MOST_BYTES + 1),
            encoding=values.get("encoding", ""),
            delimiter=shapes.SEPARATORS.get(values.get("separator", ""), ""),
        )
        name = file.name or "file"
        return intake_give(table=table, file_name=name, by=self.request.user, at=now())

    def place(self, done: Any) -> str:
        """Where it can be read."""
        return reverse("api:intake", args=[done.code])


class IntakeColumns(Unkept, Read):
    """The columns of a list as they were matched, with its first rows, to confirm or correct."""

    rule, tag, gives = "intake.change", "intake", shapes.ColumnsShape

    def find(self, user: User, **path: Any) -> Any:
        """Heads, what they were matched with, first cells, and what dates could mean."""
        intake = asked(user, path)
        sample = intake_sample(intake=intake)
        written = intake_dates(intake=intake, mapping=intake.mapping)
        heads = zip(intake_head(intake=intake), intake.mapping, strict=True)
        return {
            "columns": [
                {"head": head, "holds": key, "cells": [row.cells[number] for row in sample]}
                for number, (head, key) in enumerate(heads)
            ],
            "can_hold": COLUMNS,
            "dates": written
            and {
                "count": written.count,
                "example": written.example,
                "readings": [
                    {"order": order, "means": means, "faults": written.count - fit}
                    for (order, means), fit in zip(
                        written.readings().items(), (written.dmy, written.mdy), strict=True
                    )
                ],
            },
        }


class OnIntake(Act):
    """Something that is done with a list."""

    rule, tag, gives, on, status = (
        "intake.change",
        "intake",
        shapes.IntakeShape,
        IntakeRead,
        200,
    )


class IntakeChoose(OnIntake):
    """Confirm or correct the columns of a list; its rows are read anew from here.

    What day and month mean is never guessed: where it matters, `dates` has to say it.
    """

    takes = shapes.ColumnsIn

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Keep what was chosen."""
        programme, profile = values.get("programme"), values.get("profile")
        return intake_choose(
            intake=thing,
            mapping=values.get("columns", thing.mapping),
            order=values.get("dates", ""),
            programme=named(Programme.objects.all(), "programme", "programme", programme)
            if programme
            else None,
            profile=named(Profile.objects.all(), "kind of session", "profile", profile)
            if profile
            else None,
            received=values.get("received"),
        )


class IntakeGoOn(OnIntake):
    """Read the next rows of a list: call it until `step` is `checked`.

    Some 2,000 rows a call, the last call looks for doubles. Where there is nothing to read it
    changes nothing. A list that somebody began to take in on the page is taken in.
    """

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Read on."""
        if thing.step == IntakeStep.TAKING:
            return intake_take(intake=thing, at=now())
        return intake_read(intake=thing)


class IntakeTake(OnIntake):
    """Take a checked list in: all its good rows, or none where a row has a fault.

    Requests and people are made in one go. Where the record has changed so that another result
    would come than was shown, nothing is taken in and the rows are read anew: `step` is `checking`
    again and `said` says why.
    """

    takes, rate = shapes.TakeIn, "heavy"

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Decide and write."""
        held = intake_decide(intake=thing, whole=values["whole"], alike=values["doubles"])
        return intake_take(intake=held, at=now())


class IntakeLeave(OnIntake):
    """Put a list aside: its rows are deleted and nothing is taken in."""

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Leave it."""
        return intake_leave(intake=thing, at=now())


class FindingFilters(Filters):
    """Findings by what they are."""

    kind = OneOf(FindingKind.values, label="What it is.")


class IntakeFindings(Unkept, Listing):
    """What was found in the rows of a list, cell by cell, each with its value and the remedy."""

    rule, tag, gives, filters = "intake.change", "intake", shapes.FindingShape, FindingFilters
    orders: ClassVar[Orders] = {"row": ("number", "pk")}

    def rows(self, user: User) -> QuerySet[Any]:
        """Findings of one's own list."""
        return asked(user, self.kwargs).findings.all()

    def page(self, rows: Sequence[Any], cursor: str | None) -> Response:
        """With the values of the cells, which stand in the sealed rows only."""
        intake = asked(self.request.user, self.kwargs)
        return super().page(with_values(intake=intake, found=list(rows)), cursor)


class IntakeTemplate(FileRead):
    """An empty list to fill in, that says what each column takes."""

    rule, tag, named = "intake.change", "intake", "candidates"

    def as_csv(self, user: User, **path: Any) -> bytes:
        """Lines that explain the columns, then the head."""
        return "".join(template_csv()).encode()

    def as_xlsx(self, user: User, **path: Any) -> bytes:
        """A sheet to fill in and one that explains."""
        return template_xlsx()


class IntakeProblems(FileRead):
    """A list as it was given, whole, with what is wrong of each row in a last column."""

    rule, tag, named = "intake.change", "intake", "candidates-with-problems"

    def rows(self, user: User, **path: Any) -> Iterable[Sequence[str]]:
        """Head and rows."""
        return intake_with_problems(intake=asked(user, path))
