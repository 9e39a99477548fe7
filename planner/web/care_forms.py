"""The two forms that close a time: scanner care, and a station that is down."""

from __future__ import annotations

import secrets
from datetime import timedelta
from typing import Any, cast

from django import forms
from django.db.models import QuerySet

from sites.clock import Span, visit_span, wall_span
from sites.models import Appointment, CareKind, CareWindow, Site, Station, Technician
from sites.selectors.planned import care_in_span
from sites.services.care import care_fix
from sites.services.displace import in_the_way
from sites.services.times import downtime_add

LONGEST = 14 * 24 * 60


class WindowForm(forms.Form):
    """A time at a station on the site's own clock."""

    station = forms.ModelChoiceField(
        queryset=Station.objects.none(), to_field_name="code", empty_label=None
    )
    day = forms.DateField(widget=forms.DateInput(attrs={"type": "date"}))
    time = forms.TimeField(
        label="From", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    minutes = forms.IntegerField(min_value=1, max_value=LONGEST)

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = site
        self.offer("station", site.stations.filter(in_use=True))

    def offer(self, name: str, rows: QuerySet[Any]) -> None:
        """Set the rows that a field chooses from."""
        cast("forms.ModelChoiceField[Any]", self.fields[name]).queryset = rows

    @property
    def minute(self) -> int:
        """Minutes past midnight."""
        time = self.cleaned_data["time"]
        return int(time.hour * 60 + time.minute)

    def span(self) -> Span:
        """The time in the record's terms. Raises BadValue where the clock leaves it out."""
        values = self.cleaned_data
        return wall_span(self.site.timezone, values["day"], self.minute, values["minutes"])

    def moves(self) -> list[Appointment]:
        """The appointments that would lose their place, in order of start."""
        return in_the_way(
            self.span(),
            station=self.cleaned_data["station"],
            technician=self.cleaned_data.get("technician"),
        )

    def loses(self) -> list[CareWindow]:
        """Care that a plan placed in this time."""
        return care_in_span(station=self.cleaned_data["station"], span=self.span())

    def seen(self) -> str:
        """What the answer named: a save that finds somebody else in the way is shown again."""
        when = [f"{self.cleaned_data[name]}" for name in ("station", "day", "time", "minutes")]
        who = self.cleaned_data.get("technician")
        return ",".join([*when, f"{who}", *(f"{row.pk}.{row.version}" for row in self.moves())])

    def save(self, by: Any) -> str:
        """Write it and say what was done."""
        raise NotImplementedError


class CareForm(WindowForm):
    """Scanner care at a fixed time."""

    kind = forms.ChoiceField(choices=CareKind.choices)
    technician = forms.ModelChoiceField(
        queryset=Technician.objects.none(),
        to_field_name="code",
        required=False,
        empty_label="nobody is needed",
    )
    note = forms.CharField(required=False, max_length=500)
    field_order = ("station", "kind", "day", "time", "minutes", "technician", "note")

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, site=site, **kwargs)
        self.offer("technician", Technician.objects.filter(home=site))

    def span(self) -> Span:
        """Care lasts its minutes whatever the clock does."""
        values = self.cleaned_data
        return visit_span(self.site.timezone, values["day"], self.minute, values["minutes"])

    def loses(self) -> list[CareWindow]:
        """Setting care takes no other care away: the record refuses two at once."""
        return []

    def save(self, by: Any) -> str:
        """Set the window; whoever was named loses their place."""
        values = self.cleaned_data
        window, moved = care_fix(
            station=values["station"],
            kind=CareKind(values["kind"]),
            day=values["day"],
            minute=self.minute,
            minutes=values["minutes"],
            technician=values["technician"],
            note=values["note"],
            code=f"care-{secrets.token_hex(6)}",
            displace=True,
            by=by,
        )
        return f"{window.get_kind_display()} is set. {lost(len(moved))}"


class DowntimeForm(WindowForm):
    """A station that takes nobody for a time, and why."""

    reason = forms.CharField(max_length=200, help_text="What is wrong, no names of people")

    def save(self, by: Any) -> str:
        """Keep the downtime; whoever was named loses their place."""
        values = self.cleaned_data
        down, moved = downtime_add(
            station=values["station"],
            day=values["day"],
            minute=self.minute,
            minutes=values["minutes"],
            reason=values["reason"],
            displace=True,
            by=by,
        )
        until = timedelta(minutes=down.minutes)
        return f"{down.station} is out of use for {until}. {lost(len(moved))}"


def lost(count: int) -> str:
    """How many lost their place, and what to do about it."""
    if not count:
        return "Nobody lost their place."
    people = "1 person" if count == 1 else f"{count} people"
    return f"{people} lost their place: find them another time and tell them."
