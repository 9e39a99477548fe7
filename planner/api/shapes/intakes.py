"""Lists of candidates: given, their columns, what was found in their rows, one candidate."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from planner.api.shapes.fields import Code, Day, Number, Shape, Text, YesNo
from sites.intake.columns import BY_KEY
from sites.intake.dates import ORDERS
from sites.intake.files import DELIMITERS, ENCODINGS
from sites.intake.table import MOST_BYTES, MOST_COLUMNS, MOST_ROWS
from sites.models import FindingKind, IntakeStep

NAMED = {",": "comma", ";": "semicolon", "\t": "tab"}
SEPARATORS = {NAMED[sign]: sign for sign in DELIMITERS}


class IntakeIn(Shape):
    """A file of candidates; how a CSV file is written is found out unless it is said."""

    file = serializers.FileField(
        help_text=f"CSV or XLSX, up to {MOST_ROWS:,} rows and {MOST_BYTES // 1024**2} MB; the "
        "first row names the columns"
    )
    encoding = serializers.ChoiceField(list(ENCODINGS), required=False)
    separator = serializers.ChoiceField(list(SEPARATORS), required=False)


class IntakeShape(Shape):
    """A list of candidates and how far it is; nothing that its rows say is in it.

    Of ``rows``, ``good`` can be taken in, ``faulty`` have a fault, ``known`` are in the record
    already, and ``doubles`` are likely of a person who was there before.
    """

    code = serializers.CharField()
    step = serializers.ChoiceField(
        IntakeStep.choices, help_text="How far it is: `columns`, then `checking`, then `checked`"
    )
    given_at = serializers.DateTimeField()
    read_as = serializers.CharField(help_text="How the file was read")
    columns = serializers.ListField(
        child=serializers.CharField(allow_blank=True),
        source="mapping",
        help_text="What each column holds, in their order; empty: not used",
    )
    dates = serializers.CharField(source="date_order", help_text="Order of day and month, if said")
    programme = serializers.CharField(source="programme.code", allow_null=True)
    profile = serializers.CharField(source="profile.code", allow_null=True)
    received = serializers.DateField(allow_null=True)
    rows = serializers.IntegerField()
    checked = serializers.IntegerField(help_text="Rows read so far")
    good = serializers.IntegerField()
    faulty = serializers.IntegerField()
    known = serializers.IntegerField()
    doubles = serializers.IntegerField()
    taken = serializers.IntegerField(help_text="Requests made of it")
    said = serializers.CharField(help_text="Why it went back or was left, if it did")
    ended_at = serializers.DateTimeField(allow_null=True)


class GivenColumnShape(Shape):
    """A column of a file, with its first cells."""

    head = serializers.CharField()
    holds = serializers.CharField(help_text="As `columns` names it; empty: not used")
    cells = serializers.ListField(child=serializers.CharField(), help_text="Of the first rows")


class KnownColumnShape(Shape):
    """What a column can hold."""

    key = serializers.CharField()
    words = serializers.CharField()
    takes = serializers.CharField()
    example = serializers.CharField()


class ReadingShape(Shape):
    """What dates mean in an order of day and month."""

    order = serializers.ChoiceField(list(ORDERS))
    means = serializers.CharField(help_text="The example as a date; empty: no date")
    faults = serializers.IntegerField(help_text="Dates that would be none")


class DatesShape(Shape):
    """Dates of numbers alone, which only their order tells."""

    count = serializers.IntegerField()
    example = serializers.CharField()
    readings = ReadingShape(many=True)


class ColumnsShape(Shape):
    """The columns of a file beside what a list can hold."""

    columns = GivenColumnShape(many=True)
    can_hold = KnownColumnShape(many=True)
    dates = DatesShape(
        allow_null=True, help_text="Where it is there, choosing the columns has to name an order"
    )


class ColumnsIn(Shape):
    """What each column holds, and what counts for rows that do not say it."""

    columns = serializers.ListField(
        child=serializers.ChoiceField(list(BY_KEY), allow_blank=True),
        required=False,
        max_length=MOST_COLUMNS,
        help_text="One entry a column, empty: not used. Left out: as matched",
    )
    dates = serializers.ChoiceField(
        list(ORDERS), required=False, help_text="Needed where the file's columns show `dates`"
    )
    programme = Code(required=False, help_text="Of rows that name none")
    profile = Code(required=False, help_text="Kind of session of rows that name none")
    received = Day(required=False, help_text="Of rows without a date")

    example: ClassVar[dict[str, Any]] = {
        "columns": ["reference", "family_name", "given_name", "phone", "due", ""],
        "dates": "dmy",
        "programme": "licence",
        "profile": "full",
    }


class FindingShape(Shape):
    """Something about a cell: the row as a spreadsheet counts, the column's head, its value."""

    row = serializers.IntegerField(source="number")
    kind = serializers.ChoiceField(FindingKind.choices)
    column = serializers.CharField()
    value = serializers.CharField()
    problem = serializers.CharField()
    remedy = serializers.CharField()


class TakeIn(Shape):
    """What to do with a list that was checked."""

    whole = YesNo(help_text="Only if no row has a fault; else the good rows are taken in")
    doubles = YesNo(help_text="Take likely doubles in too: somebody looked at them")

    example: ClassVar[dict[str, Any]] = {"whole": False, "doubles": False}


class CandidateIn(Shape):
    """One candidate, each value read as the cell of a list is.

    No identifier of a person, no birth data; needs without their reasons.
    """

    reference = Text(max_length=64, help_text="The programme's own, of the request")
    programme = Code()
    profile = Code(help_text="Kind of session")
    subject = Text(max_length=64, required=False, help_text="The programme's own, of the person")
    given_name = Text(max_length=120, required=False)
    family_name = Text(max_length=120, required=False)
    phone = Text(max_length=64, required=False)
    email = Text(max_length=254, required=False)
    language = Text(max_length=16, required=False, help_text="BCP 47")
    received = Day(required=False, help_text="Left out: today")
    release = Day(required=False, help_text="Left out: the day it was received")
    due = Day(required=False, help_text="Left out: by the programme's terms")
    sites = serializers.ListField(
        child=Code(), required=False, max_length=200, help_text="Left out: any that you see"
    )
    needs = serializers.ListField(
        child=Text(max_length=64),
        required=False,
        max_length=50,
        help_text="`access`, `longer`, or codes of station features and technician skills",
    )
    times = serializers.ListField(
        child=Text(max_length=64),
        required=False,
        max_length=100,
        help_text="Dates, each with or without a time span. Left out: any time",
    )
    area = Code(required=False, help_text="Home area, never an address")
    priority = Number(required=False, min_value=0.01, max_value=100)
    own = YesNo(required=False, help_text="A request of its own, though likely of a known person")

    example: ClassVar[dict[str, Any]] = {
        "reference": "A-2041",
        "programme": "licence",
        "profile": "full",
        "given_name": "Ilmi",
        "family_name": "Tavoren",
        "phone": "+00 555 0142",
        "sites": ["north"],
        "needs": ["access"],
        "times": ["2027-03-08 09:00-12:00"],
    }


class CandidateTakenShape(Shape):
    """The request that was made."""

    request = serializers.CharField(help_text="Its reference")
