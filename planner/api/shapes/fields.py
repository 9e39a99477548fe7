"""Fields that take what they say and nothing like it: no text for a number, nor the reverse."""

from __future__ import annotations

import re
from datetime import date, time
from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from sites.clock import minute_words

YEARS = range(1990, 2201)
"""Years that a record can hold."""

DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
TIME = re.compile(r"(?:[01][0-9]|2[0-3]):[0-5][0-9]")
SLUG = r"^[-a-zA-Z0-9_]+$"


class Text(serializers.CharField):
    """A text; numbers are none."""

    def to_internal_value(self, data: Any) -> Any:
        """Refuse what is no text."""
        if not isinstance(data, str):
            self.fail("invalid")
        return super().to_internal_value(data)


class Code(serializers.RegexField):
    """The code or reference of something in the record."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(SLUG, **{"max_length": 64, **kwargs})

    def to_internal_value(self, data: Any) -> Any:
        """Refuse what is no text."""
        if not isinstance(data, str):
            self.fail("invalid")
        return super().to_internal_value(data)


class Whole(serializers.IntegerField):
    """A whole number; a text or a number with a fraction is none."""

    def to_internal_value(self, data: Any) -> Any:
        """Refuse what is no number."""
        if isinstance(data, bool) or not isinstance(data, int | float) or data != int(data):
            self.fail("invalid")
        return super().to_internal_value(int(data))


class Number(serializers.FloatField):
    """A number; a text is none."""

    def to_internal_value(self, data: Any) -> Any:
        """Refuse what is no number."""
        if isinstance(data, bool) or not isinstance(data, int | float):
            self.fail("invalid")
        return super().to_internal_value(data)


class YesNo(serializers.BooleanField):
    """True or false."""

    def to_internal_value(self, data: Any) -> Any:
        """Refuse what is neither."""
        if not isinstance(data, bool):
            self.fail("invalid", input=data)
        return data


class Day(serializers.DateField):
    """A date as ``YYYY-MM-DD``, of a year that a record can hold."""

    def to_internal_value(self, value: Any) -> date:
        """The date."""
        found = day_of(value) if isinstance(value, str) else None
        if found is None:
            raise serializers.ValidationError(
                f"is no date between {YEARS[0]} and {YEARS[-1]}: write it as 2027-03-09."
            )
        return found


def day_of(text: str) -> date | None:
    """The date of a text, None where it is none."""
    if not DAY.fullmatch(text):
        return None
    try:
        found = date.fromisoformat(text)
    except ValueError:
        return None
    return found if found.year in YEARS else None


@extend_schema_field({"type": "string", "pattern": rf"^({TIME.pattern}|24:00)$"})
class WallTime(serializers.Field):
    """``HH:MM`` on the clock of the site; minutes past midnight inside. A day may end at 24:00."""

    def to_internal_value(self, data: Any) -> Any:
        """Minutes past midnight."""
        if not isinstance(data, str) or not TIME.fullmatch(data):
            raise serializers.ValidationError("is no time: write it as 09:30.")
        found = time.fromisoformat(data)
        return found.hour * 60 + found.minute

    def to_representation(self, value: Any) -> str:
        """``HH:MM``."""
        return minute_words(value)


class Shape(serializers.Serializer):
    """An object whose names are all known: others are refused, with their place.

    ``example`` is an invented one, for the OpenAPI document: a body that can be sent, or an answer.
    """

    example: ClassVar[dict[str, Any] | None] = None

    def to_internal_value(self, data: Any) -> Any:
        """Refuse names that nobody knows, beside everything else that is wrong."""
        if isinstance(data, dict) and (unknown := set(data) - set(self.fields)):
            known = ", ".join(self.fields)
            raise serializers.ValidationError(
                {name: [f"is no name here: {known}."] for name in sorted(map(str, unknown))}
            )
        return super().to_internal_value(data)
