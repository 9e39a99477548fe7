"""Forms of the admin that need more than their fields."""

from __future__ import annotations

from typing import Any

from django import forms

from sites.clock import wall_span
from sites.errors import RecordError
from sites.models import Absence, Closure, Downtime, Shift
from sites.occupancy.sources import SOURCES, Kind
from sites.selectors.occupied import occupied_by


class ClockForm(forms.ModelForm):  # type: ignore[type-arg]
    """A time on a site's wall clock. Works the instants out and says what is in the way."""

    def clean(self) -> dict[str, Any]:
        """Work out the instants; refuse an overlap before the database does."""
        values = super().clean() or {}
        row = self.instance
        try:
            zone = zone_of_row(type(row), values)
            span = wall_span(zone, values["day"], values["minute"], values["minutes"])
        except KeyError:
            return values  # a field is missing: Django says which
        except RecordError as error:
            raise forms.ValidationError(str(error)) from error
        row.starts_at, row.ends_at = span["starts_at"], span["ends_at"]
        for source in SOURCES:
            if source.table != row._meta.db_table:
                continue
            wanted = [
                (Kind(kind), values[column.removesuffix("_id")].pk) for kind, column in source.takes
            ]
            besides = (source.number, row.pk) if row.pk else None
            taken = occupied_by(wanted, span["starts_at"], span["ends_at"], besides=besides)
            if taken:
                raise forms.ValidationError("; ".join(map(str, taken)))
        return values


def zone_of_row(model: type[Any], values: dict[str, Any]) -> str:
    """The zone of the clock that a row is written on. KeyError where its place is missing."""
    if model in (Shift, Closure):
        zone = values["site"].timezone
    elif model is Downtime:
        zone = values["station"].site.timezone
    elif model is Absence:
        zone = values["technician"].home.timezone
    else:
        raise KeyError(model)
    return str(zone)
