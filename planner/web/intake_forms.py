"""The forms of the intake: give a file, confirm its columns, decide, and one candidate by hand."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain
from typing import Any, cast

from django import forms

from sites.errors import RecordError
from sites.intake.columns import BY_KEY, COLUMNS
from sites.intake.dates import ORDERS, Written
from sites.intake.files import DELIMITERS, ENCODINGS, read_table
from sites.intake.known import Around, Candidate
from sites.intake.table import MOST_BYTES, MOST_ROWS, Table
from sites.models import Feature, HomeArea, Intake, Profile, Programme, Site, Skill
from sites.selectors.external import candidate_read
from sites.selectors.intakes import intake_dates, intake_head
from sites.services.requests import ACCESSIBLE

DATE = {"type": "date"}


def refused(error: RecordError) -> str:
    """What the record refuses, as a sentence."""
    return f"{error.value} {error.problem}: {error.remedy}."


class FileForm(forms.Form):
    """A file with its encoding and separator, both found out unless chosen."""

    file = forms.FileField(
        label="File",
        help_text=f"CSV or XLSX, up to {MOST_ROWS:,} rows and {MOST_BYTES // 1024**2} MB; the "
        "first row names the columns",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.txt,.tsv,.xlsx"}),
    )
    encoding = forms.ChoiceField(
        label="Encoding of a CSV file",
        required=False,
        choices=[("", "find out"), *ENCODINGS.items()],
    )
    delimiter = forms.ChoiceField(
        label="Between its columns",
        required=False,
        choices=[("", "find out"), *((sign, words) for sign, words in DELIMITERS.items())],
    )
    table: Table

    def clean(self) -> dict[str, Any]:
        """Read the file; what is wrong with it stands beside its field."""
        values = super().clean() or {}
        given = values.get("file")
        if given is not None:
            try:
                self.table = read_table(
                    given.read(MOST_BYTES + 1),
                    encoding=values.get("encoding", ""),
                    delimiter=values.get("delimiter", ""),
                )
            except RecordError as error:
                self.add_error("file", refused(error))
        return values


class ColumnsForm(forms.Form):
    """Which column is what, in which order dates are written, and what holds for every row."""

    order = forms.ChoiceField(required=False, widget=forms.RadioSelect)
    programme = forms.ModelChoiceField(
        label="Programme of rows that name none",
        queryset=Programme.objects.all(),
        to_field_name="code",
        required=False,
        empty_label="every row names its own",
    )
    profile = forms.ModelChoiceField(
        label="Kind of session of rows that name none",
        queryset=Profile.objects.all(),
        to_field_name="code",
        required=False,
        empty_label="every row names its own",
    )
    received = forms.DateField(
        label="Received on, for rows without a date",
        required=False,
        widget=forms.DateInput(attrs=DATE),
    )

    def __init__(self, *args: Any, intake: Intake, **kwargs: Any) -> None:
        kwargs.setdefault("initial", first_choices(intake))
        super().__init__(*args, **kwargs)
        self.intake = intake
        self.heads = intake_head(intake=intake)
        choices = [("", "not used"), *((each.key, each.words) for each in COLUMNS)]
        for number, words in enumerate(self.heads):
            self.fields[f"column_{number}"] = forms.ChoiceField(
                label=words, required=False, choices=choices
            )
        self.written = intake_dates(intake=intake, mapping=self.chosen())
        order = cast(forms.ChoiceField, self.fields["order"])
        order.choices = order_choices(self.written)

    def chosen(self) -> list[str]:
        """The mapping as sent, else as matched; keys that are none count as not used."""
        if not self.is_bound:
            return list(self.intake.mapping)
        keys = (f"{self.data.get(f'column_{n}', '')}" for n in range(len(self.heads)))
        return [key if key in BY_KEY else "" for key in keys]

    def columns(self) -> Iterable[Any]:
        """The fields of the columns."""
        return (self[f"column_{number}"] for number in range(len(self.heads)))

    def rest(self) -> Iterable[Any]:
        """The fields of what holds for every row."""
        return (self[name] for name in ("programme", "profile", "received"))

    def clean(self) -> dict[str, Any]:
        """The order of day and month is asked wherever it matters."""
        values = super().clean() or {}
        if self.written and not values.get("order"):
            self.add_error("order", "Say how these dates are written; it is not guessed.")
        return values


def first_choices(intake: Intake) -> dict[str, Any]:
    """The choices made last; where there is one programme or kind of session, that one."""
    values: dict[str, Any] = {f"column_{number}": key for number, key in enumerate(intake.mapping)}
    for name, model in (("programme", Programme), ("profile", Profile)):
        codes = list(model._default_manager.values_list("code", flat=True)[:2])
        own = getattr(intake, name)
        values[name] = own.code if own else codes[0] if len(codes) == 1 else None
    received = intake.received or intake.given_at.date()
    return values | {"order": intake.date_order, "received": received.isoformat()}


def order_choices(written: Written | None) -> list[tuple[str, str]]:
    """The orders in words, with what the example would be and how many dates fail."""
    if written is None:
        return []
    fit = {"dmy": written.dmy, "mdy": written.mdy}
    found = []
    for order, reading in written.readings().items():
        words = f"{ORDERS[order]}: {written.example} is {reading or 'no date'}"
        fails = written.count - fit[order]
        found.append((order, f"{words}; {fails} of {written.count} dates would be faults"))
    return found


class DecisionForm(forms.Form):
    """What to do with a checked file; where doubles were found, they are asked about."""

    whole = forms.ChoiceField(
        label="If rows have faults",
        choices=[("good", "take in the good rows"), ("whole", "all rows or none")],
        widget=forms.RadioSelect,
        initial="good",
    )
    alike = forms.ChoiceField(
        label="Rows that are likely doubles",
        choices=[
            ("no", "leave them out"),
            ("yes", "take them in: they are requests of their own"),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": "Look at the likely doubles, then choose."},
    )

    def __init__(self, *args: Any, intake: Intake, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not intake.faulty:
            self.fields.pop("whole")
        if not intake.doubles:
            self.fields.pop("alike")


class CandidateForm(forms.Form):
    """One candidate; every field is read as the cell of a file is."""

    reference = forms.CharField()
    programme = forms.ModelChoiceField(
        queryset=Programme.objects.all(), to_field_name="code", empty_label=None
    )
    profile = forms.ModelChoiceField(
        queryset=Profile.objects.all(), to_field_name="code", empty_label=None
    )
    family_name = forms.CharField(required=False)
    given_name = forms.CharField(required=False)
    phone = forms.CharField(required=False, widget=forms.TextInput(attrs={"type": "tel"}))
    email = forms.CharField(required=False, widget=forms.TextInput(attrs={"type": "email"}))
    language = forms.CharField(required=False)
    subject = forms.CharField(required=False)
    received = forms.CharField(required=False, widget=forms.TextInput(attrs=DATE))
    release = forms.CharField(required=False, widget=forms.TextInput(attrs=DATE))
    due = forms.CharField(required=False, widget=forms.TextInput(attrs=DATE))
    sites = forms.ModelMultipleChoiceField(
        queryset=Site.objects.none(),
        to_field_name="code",
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    needs = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple)
    times = forms.CharField(required=False)
    area = forms.ModelChoiceField(
        queryset=HomeArea.objects.all(), to_field_name="code", required=False, empty_label="none"
    )
    priority = forms.CharField(required=False)
    own = forms.BooleanField(
        required=False, widget=forms.HiddenInput, label="It is a request of its own"
    )

    def __init__(self, *args: Any, around: Around, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.around = around
        for name, field in self.fields.items():
            if column := BY_KEY.get(name):
                field.label = column.words.capitalize()
                field.help_text = column.takes
        keys = [key for key in around.sites.values() if key is not None]
        sites = cast("forms.ModelMultipleChoiceField[Site]", self.fields["sites"])
        sites.queryset = Site.objects.filter(pk__in=keys)
        sites.help_text = "None: any of these."
        needs = cast(forms.MultipleChoiceField, self.fields["needs"])
        rows = (each._default_manager.values_list("code", "name") for each in (Feature, Skill))
        needs.choices = [
            ("access", "accessible station"),
            ("longer", "longer session"),
            *((code, name or code) for code, name in chain(*rows) if code != ACCESSIBLE),
        ]
        needs.help_text = "The need, never its reason."
        self.candidate: Candidate | None = None

    def clean(self) -> dict[str, Any]:
        """Read the fields as a row; what is wrong stands beside its field."""
        values = super().clean() or {}
        texts = {key: text_of(value) for key, value in values.items() if key in BY_KEY}
        read = candidate_read(texts=texts, known=self.around)
        for fault in read.faults:
            if not self.errors.get(fault.column):
                self.add_error(fault.column, f"{fault.problem}: {fault.remedy}.")
        self.candidate = None if self.errors else read.candidate
        return values


def text_of(value: Any) -> str:
    """A cleaned value as the text of a cell."""
    if isinstance(value, str):
        return value
    if value is None:
        return ""
    code = getattr(value, "code", None)
    return code if code is not None else ";".join(text_of(each) for each in value)
