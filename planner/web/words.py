"""Template filters: dates, times, minutes and shares as the pages write them."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from django import forms, template
from django.http import QueryDict

from planner.gateway.board.words import day_words, day_words_long, zone_words
from sites import access
from sites.clock import MINUTES_A_DAY, date_words, minute_words, wall
from sites.models import RequestTime
from sites.selectors.standing import Standing

register = template.Library()


@register.filter
def day(value: date | None) -> str:
    """``Tue 9 Mar``; a dash where there is none."""
    return day_words(0, value) if value else "–"


@register.filter
def long_day(value: date | None) -> str:
    """``Tue 9 Mar 2027``."""
    return day_words_long(0, value) if value else "–"


@register.filter
def clock(minute: int | None) -> str:
    """``HH:MM`` of minutes past midnight."""
    return "–" if minute is None else minute_words(minute)


@register.filter
def at(value: datetime | date | None, zone: str) -> str:
    """A time on a zone's wall clock, ``Tue 9 Mar 2027 14:05``; a bare date as a day."""
    if value is None:
        return "–"
    if not isinstance(value, datetime):
        return day_words_long(0, value)
    when, minute = wall(zone, value)
    return f"{day_words_long(0, when)} {minute_words(minute)}"


@register.filter
def zone_of(value: date, zone: str) -> str:
    """A zone and its distance from UTC on a day."""
    return zone_words(zone, 0, value)


@register.filter
def standing(value: str) -> str:
    """Where a request stands, in words."""
    return f"{Standing(value).label}"


@register.filter
def comes(value: RequestTime) -> str:
    """When a person can come: hours of one day, or days."""
    last = value.day + timedelta(days=(value.minute + value.minutes - 1) // MINUTES_A_DAY)
    if last == value.day:
        hours_ = f"{minute_words(value.minute)} to {minute_words(value.minute + value.minutes)}"
        return f"{date_words(value.day)}, {hours_}"
    return f"{date_words(value.day)} to {date_words(last)}"


@register.filter
def percent(value: float | None) -> str:
    """A share, ``8.3 %``; a dash where nothing was counted."""
    return "–" if value is None else f"{100 * value:.1f} %"


@register.filter
def hours(minutes: float | None) -> str:
    """Minutes with a thin figure group: ``1 250``."""
    return "–" if minutes is None else f"{round(minutes):,}".replace(",", " ")


@register.filter
def days_left(value: timedelta | None) -> str:
    """Slack in whole days, signed."""
    if value is None:
        return "–"
    return f"{value.days}".replace("-", "\N{MINUS SIGN}")


@register.filter
def label_of(form: forms.Form, name: str) -> str:
    """What a field of a form is called; its name where it has no label."""
    field = form.fields.get(name)
    return f"{field.label or name}" if field else ""


@register.filter
def may(user: Any, name: str) -> bool:
    """Whether somebody may do what a rule of `sites.access` names: ``{% if user|may:"…" %}``."""
    return access.may(user, name)


@register.simple_tag(takes_context=True)
def same(context: dict[str, Any], **changes: Any) -> str:
    """The query of this page with some values changed; an empty value takes one away."""
    query: QueryDict = context["request"].GET.copy()
    for name, value in changes.items():
        query.pop(name, None)
        if value not in (None, ""):
            query[name] = str(value)
    return "?" + query.urlencode()


@register.simple_tag
def query(**values: Any) -> str:
    """A query of these values, without the empty ones."""
    found = QueryDict(mutable=True)
    for name, value in values.items():
        if value not in (None, ""):
            found[name] = value.isoformat() if isinstance(value, date) else str(value)
    return "?" + found.urlencode()


@register.simple_tag
def behind(values: dict[str, Any]) -> str:
    """`query` of a dictionary: the filters of the requests behind a figure."""
    return query(**values)
