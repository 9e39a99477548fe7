"""When a site is open, and how far it is."""

from __future__ import annotations

from datetime import date

import pytest
from django.core.exceptions import ValidationError

from sites.clock import wall_span
from sites.errors import BadValue
from sites.models import Closure, HomeArea, OpeningHours, Site, SpecialHours
from sites.selectors.hours import open_windows
from sites.selectors.travel import great_circle_km, travel_minutes
from tests.sites.build import DAY, ZONE, World

pytestmark = pytest.mark.django_db


def hours(here: World, day: date) -> list[tuple[int, int]]:
    """Open times of one day."""
    return open_windows(site=here.site, first_day=day, days=1)[day]


def test_weekly_hours_hold_on_their_weekdays(here: World) -> None:
    week = open_windows(site=here.site, first_day=DAY, days=7)
    assert list(week.values()) == [[(480, 1080)]] * 5 + [[], []]


def test_hours_change_on_a_day(here: World) -> None:
    row = OpeningHours.objects.get(weekday=0)
    row.ends_on = date(2026, 3, 9)
    row.save()
    OpeningHours.objects.create(
        site=here.site, weekday=0, opens=600, closes=900, starts_on=date(2026, 3, 9)
    )
    assert hours(here, DAY) == [(480, 1080)]
    assert hours(here, date(2026, 3, 9)) == [(600, 900)]


def test_a_closure_cuts_hours_in_two(here: World) -> None:
    Closure.objects.create(site=here.site, reason="drill", **wall_span(ZONE, DAY, 700, 30))
    assert hours(here, DAY) == [(480, 700), (730, 1080)]


def test_a_closure_over_several_days_closes_all_of_them(here: World) -> None:
    Closure.objects.create(site=here.site, reason="move", **wall_span(ZONE, DAY, 600, 2 * 1440))
    assert hours(here, DAY) == [(480, 600)]
    assert hours(here, date(2026, 3, 3)) == []
    assert hours(here, date(2026, 3, 4)) == [(600, 1080)]


def test_public_holidays_close_unless_special_hours_say_otherwise(here: World) -> None:
    """1 January and 6 January are public holidays in Austria (Feiertagsruhegesetz 1957)."""
    Site.objects.update(holiday_country="AT")
    here.site.refresh_from_db()
    assert hours(here, date(2026, 1, 1)) == []
    assert hours(here, date(2026, 1, 2)) == [(480, 1080)]
    SpecialHours.objects.create(site=here.site, day=date(2026, 1, 6), opens=540, closes=720)
    assert hours(here, date(2026, 1, 6)) == [(540, 720)]


@pytest.mark.parametrize(
    ("country", "part", "words"),
    [
        ("XX", "", "site-1: 'XX' is no country whose public holidays are known; use an ISO 3166-1"),
        ("AT", "zz", "site-1: 'zz' is no part of AT whose public holidays are known; use one of 1"),
        ("VA", "1", "site-1: '1' is no part of VA whose public holidays are known; leave it empty"),
        ("", "1", "site-1: '1' is a part of no country; name the country too"),
    ],
)
def test_holidays_that_nobody_knows_are_refused_by_name(
    here: World, country: str, part: str, words: str
) -> None:
    """XX is never a country (user-assigned, ISO 3166-1); AT has parts 1 to 9, VA none (3166-2)."""
    Site.objects.update(holiday_country=country, holiday_subdivision=part)
    here.site.refresh_from_db()
    with pytest.raises(BadValue, match=words):
        hours(here, DAY)
    field = "holiday_subdivision" if part else "holiday_country"
    with pytest.raises(ValidationError) as told:
        here.site.full_clean()
    assert list(told.value.message_dict) == [field]


def test_a_site_with_known_holidays_and_zone_is_taken(here: World) -> None:
    here.site.holiday_country, here.site.holiday_subdivision = "AT", "9"
    here.site.full_clean()
    here.site.timezone = "Europe/Nowhere"
    with pytest.raises(ValidationError, match="Europe/Nowhere: is no time zone"):
        here.site.full_clean()


def test_a_quarter_of_the_equator() -> None:
    """A quarter of a great circle of the mean earth radius 6371.0088 km (IUGG): 10007.557 km."""
    assert great_circle_km((0, 0), (0, 90)) == pytest.approx(10007.557, abs=0.001)
    assert great_circle_km((90, 0), (0, 12)) == pytest.approx(10007.557, abs=0.001)


def test_travel_is_given_or_estimated(here: World) -> None:
    """One degree of a great circle is 111.195 km; × 1.3 at 40 km/h is 216.8 minutes."""
    Site.objects.update(latitude=0, longitude=0)
    here.site.refresh_from_db()
    area = HomeArea.objects.create(code="h", latitude=1, longitude=0)
    assert travel_minutes(area=area, site=here.site) == 217
    given = {(area.pk, here.site.pk): 40}
    assert travel_minutes(area=area, site=here.site, given=given) == 40
    assert travel_minutes(area=HomeArea(), site=here.site) is None
