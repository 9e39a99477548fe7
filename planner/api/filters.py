"""Filters of lists: each takes one kind of value and says so, and takes nothing else."""

from __future__ import annotations

from typing import Any

import django_filters
from django import forms

from planner.api.shapes.fields import SLUG, day_of


class DayField(forms.CharField):
    """A date as ``YYYY-MM-DD`` and in no other way."""

    def to_python(self, value: Any) -> Any:
        """The date, None for nothing."""
        text = super().to_python(value)
        if not text:
            return None
        found = day_of(text)
        if found is None:
            raise forms.ValidationError("is no date: write it as 2027-03-09.")
        return found


class On(django_filters.DateFilter):
    """A date; ``lookup_expr`` says whether it is the day, the first or the last one."""

    field_class = DayField


class Named(django_filters.CharFilter):
    """A code or reference."""

    pattern = SLUG

    def __init__(self, **kwargs: Any) -> None:
        messages = {"invalid": "is no code."}
        super().__init__(**kwargs)
        self.extra.update(regex=SLUG, error_messages=messages)

    field_class = forms.RegexField


class OneOf(django_filters.ChoiceFilter):
    """One of some words."""

    def __init__(self, words: Any, **kwargs: Any) -> None:
        self.words = tuple(str(word) for word in words)
        said = f"is none of: {', '.join(self.words)}."
        super().__init__(
            choices=[(word, word) for word in self.words],
            error_messages={"invalid_choice": said},
            **kwargs,
        )


class Yes(django_filters.TypedChoiceFilter):
    """``true`` or ``false``."""

    words = ("true", "false")

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            choices=[(word, word) for word in self.words],
            coerce=lambda word: word == "true",
            error_messages={"invalid_choice": "is neither true nor false."},
            **kwargs,
        )


class Filters(django_filters.FilterSet):
    """Base of all filters; an empty value is refused rather than left out without a word."""

    def is_valid(self) -> bool:
        """Every parameter is one that it takes."""
        valid = bool(super().is_valid())
        for name in self.base_filters:
            if self.data.get(name) == "":
                self.form.add_error(name, "is empty: give a value, or leave it out.")
                valid = False
        return valid
