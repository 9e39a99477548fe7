"""Forms of the returned place: the session that follows, a set sent again, responses."""

from __future__ import annotations

import csv
import io
from datetime import date, datetime
from typing import Any, cast

from django import forms
from django.db.models import QuerySet

from sites.errors import RecordError
from sites.models import Profile, Request, Response, ResponseKind, Site, Skill, Submission, User
from sites.selectors.advice import Advice, rework_places
from sites.selectors.returns_file import COLUMNS, Row, Sheet, one_response, responses_read
from sites.services.requests import request_rework
from sites.services.returns import responses_register, rework_reference

LARGEST = 2 * 1024 * 1024


class ReworkForm(forms.Form):
    """The session after an image return, filled with the recommendation.

    Sites are those in view and those that the returned request had.
    """

    profile = forms.ModelChoiceField(
        Profile.objects.all(), to_field_name="code", empty_label=None, label="Kind of session"
    )
    skills = forms.ModelMultipleChoiceField(
        Skill.objects.all(),
        to_field_name="code",
        required=False,
        label="Technician skilled in",
        widget=forms.CheckboxSelectMultiple,
    )
    sites = forms.ModelMultipleChoiceField(
        Site.objects.none(),
        to_field_name="code",
        label="Sites that can take it",
        widget=forms.CheckboxSelectMultiple,
    )
    release = forms.DateField(
        label="First day to book",
        help_text="After the days of hand care or healing",
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    due = forms.DateField(label="Due", widget=forms.DateInput(attrs={"type": "date"}))
    advice = forms.CharField(
        label="Why this session",
        required=False,
        max_length=2000,
        help_text="Kept with the request. Needs, never a diagnosis; no names.",
        widget=forms.Textarea(attrs={"rows": 7}),
    )

    def __init__(self, *args: Any, user: User, returned: Request, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        places = rework_places(user=user, returned=returned)
        cast("forms.ModelMultipleChoiceField[Site]", self.fields["sites"]).queryset = places

    @classmethod
    def advised(cls, advice: Advice, *, user: User, returned: Request) -> ReworkForm:
        """The form as recommended."""
        return cls(
            user=user,
            returned=returned,
            initial={
                "profile": advice.profile.code,
                "skills": [each.code for each in advice.skills],
                "sites": [each.code for each in advice.sites],
                "release": advice.release.isoformat(),
                "due": advice.due.isoformat(),
                "advice": advice.words,
            },
        )

    def save(self, response: Response, *, today: date) -> Request:
        """Ask for it."""
        values = self.cleaned_data
        return request_rework(
            response=response,
            reference=rework_reference(response.submission.request),
            today=today,
            profile=values["profile"],
            skills=values["skills"],
            sites=values["sites"],
            release=values["release"],
            due=values["due"],
            advice=values["advice"],
        )


class FixForm(forms.Form):
    """The new control number of a set that was corrected or sent again."""

    control_number = forms.CharField(max_length=64, label="Control number of the new submission")


class OneForm(forms.Form):
    """One response."""

    number = forms.CharField(max_length=64, label="Control number")
    kind = forms.ChoiceField(choices=ResponseKind.choices)
    code = forms.CharField(
        max_length=32, required=False, help_text="The programme's code, where it has one"
    )
    day = forms.DateField(label="Came on", widget=forms.DateInput(attrs={"type": "date"}))

    def save(self, *, now: datetime, submissions: QuerySet[Submission]) -> str:
        """Register it, once however often it is sent; what was done, in words."""
        values = self.cleaned_data
        row = one_response(
            number=values["number"].strip(),
            kind=ResponseKind(values["kind"]),
            code=values["code"].strip(),
            day=values["day"],
            now=now,
            submissions=submissions,
        )
        if row is None:
            return f"The response to {values['number']} was there already: nothing was changed."
        responses_register(rows=[row])
        return f"The response to {values['number']} is registered."


class ManyForm(forms.Form):
    """A file of responses, or its lines."""

    file = forms.FileField(required=False, label="CSV file")
    lines = forms.CharField(
        required=False,
        label="or its lines",
        widget=forms.Textarea(attrs={"rows": 6, "spellcheck": "false"}),
        help_text="First line: control number, kind, code, date",
    )
    sheet: Sheet

    def clean(self) -> dict[str, Any]:
        """Read what was given against the record."""
        values = super().clean() or {}
        file, lines = values.get("file"), values.get("lines", "")
        if file is None and not lines.strip():
            raise forms.ValidationError("Choose a file or put its lines below.")
        if file is not None and file.size > LARGEST:
            raise forms.ValidationError("The file is larger than 2 MB: split it.")
        try:
            self.sheet = responses_read(
                data=file.read() if file is not None else lines,
                now=self.now,
                submissions=self.submissions,
            )
        except RecordError as error:
            raise forms.ValidationError(
                f"{error.value} {error.problem}: {error.remedy}."
            ) from error
        return values

    def __init__(
        self, *args: Any, now: datetime, submissions: QuerySet[Submission], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.now, self.submissions = now, submissions

    def text(self) -> str:
        """The lines that would be registered, to be sent once more with the answer."""
        out = io.StringIO()
        rows = ((row.submission.control_number, row.kind, row.code, row.day) for row in self.good())
        csv.writer(out, lineterminator="\n").writerows([COLUMNS, *rows])
        return out.getvalue()

    def good(self) -> list[Row]:
        """The rows without a fault."""
        return self.sheet.rows
