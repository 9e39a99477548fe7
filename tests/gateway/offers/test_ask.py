"""What one caller is told, out of the record: against sums by hand and against the database."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise
from math import ceil

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from planner.engine.booking.reasons import FULL, NEVER_OPEN, NO_SITE, NOBODY_ABLE
from planner.gateway.offers.ask import NEAREST, ask
from planner.gateway.offers.desk import forget
from planner.gateway.offers.why import NARROWED
from sites.errors import BadValue
from sites.models import (
    Appointment,
    Feature,
    HomeArea,
    Occupancy,
    PlanRun,
    RequestSite,
    RequestTime,
    Shift,
    Site,
    SitePrice,
    Skill,
)
from sites.services.appointments import appointment_book, appointment_step
from sites.services.requests import request_close
from tests.gateway.offers.conftest import NEXT, asked, told
from tests.sites.build import DAY, NOW, World

OPENS, CLOSES, GRAIN = 480, 1080, 5


def test_an_empty_day_offers_every_told_time_that_leaves_the_session_room(here: World) -> None:
    """By hand: told times are every 5 minutes from opening to closing less the planned minutes."""
    found = asked(here.request("r"), first=NEXT, last=NEXT)
    minutes = {time.minutes for time in found.times}
    assert len(minutes) == 1
    last = CLOSES - minutes.pop()
    assert told(found.times) == list(range(OPENS, last // GRAIN * GRAIN + 1, GRAIN))


def test_no_offer_overlaps_what_the_database_holds(here: World) -> None:
    """The occupancy is kept by triggers, which know nothing of offers."""
    for n, minute in enumerate((500, 600, 700, 800)):
        here.book(here.request(f"b-{n}"), minute, day=NEXT)
        here.book(
            here.request(f"c-{n}"),
            minute + 10,
            day=NEXT,
            station=here.stations[1],
            technician=here.technicians[1],
        )
    found = asked(here.request("r"), first=NEXT, last=NEXT)
    assert len(found.times) > 10
    stations = {row.code: row.pk for row in here.stations}
    people = {row.code: row.pk for row in here.technicians}
    taken = list(Occupancy.objects.values_list("kind", "resource", "starts", "ends"))
    zero = Appointment.objects.get(request__reference="b-0")
    base = int(zero.starts_at.timestamp() // 60) - zero.minute
    for time in found.times:
        start, end = base + time.minute, base + time.minute + time.minutes
        mine = {(1, stations[time.station]), (2, people[time.technician])}
        assert not any(
            (kind, key) in mine and low < end and high > start for kind, key, low, high in taken
        )


def test_every_offer_of_a_busy_day_can_be_booked(here: World) -> None:
    here.book(here.request("b"), 600, day=NEXT)
    found = asked(here.request("r"), first=NEXT, last=NEXT)
    request = here.request("tried")
    stations = {row.code: row for row in here.stations}
    people = {row.code: row for row in here.technicians}
    for time in found.times[::9]:
        one = appointment_book(
            request=request,
            station=stations[time.station],
            technician=people[time.technician],
            day=time.day,
            minute=time.minute,
            minutes=time.minutes,
            told_minute=time.told,
            by=here.desk,
        )
        appointment_step(appointment=one, action="cancel", by=here.desk, why="tried")


def test_several_days_are_told_as_a_choice_half_an_hour_apart(here: World) -> None:
    found = asked(here.request("r"), top=12)
    by_part: dict[tuple[date, bool], list[int]] = {}
    for time in found.times:
        by_part.setdefault((time.day, time.told < 720), []).append(time.told)
    assert len(by_part) > 2
    for times in by_part.values():
        assert len(times) <= 3
        times.sort()
        assert all(b - a >= 30 for a, b in pairwise(times))


def test_narrowing_by_part_of_day_keeps_starts_before_noon(here: World) -> None:
    request = here.request("r")
    morning = asked(request, first=NEXT, last=NEXT, part="am")
    evening = asked(request, first=NEXT, last=NEXT, part="pm")
    both = asked(request, first=NEXT, last=NEXT)
    assert all(time.minute < 720 for time in morning.times)
    assert all(time.minute >= 720 for time in evening.times)
    assert told(morning.times) + told(evening.times) == told(both.times)


def test_narrowing_by_place_and_skill(here: World) -> None:
    other = Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna")
    request = here.request("r", sites=[here.site, other])
    assert {time.site.code for time in asked(request, site="site-1").times} == {"site-1"}
    assert asked(request, site="site-2").times == ()
    skilled = Skill.objects.create(code="worn")
    here.technicians[1].skills.add(skilled)
    found = asked(request, skill="worn")
    assert found.skills == ("worn",)
    assert {time.technician for time in found.times} == {"t-2"}


def test_a_request_that_names_no_site_is_asked_at_the_nearest(here: World) -> None:
    """Degrees north of the area: the less the nearer; site-1 has none, so it comes last."""
    area = HomeArea.objects.create(code="a", latitude=48.0, longitude=16.0)
    request = here.request("r", sites=[])
    type(request.subject).objects.filter(pk=request.subject_id).update(home_area=area)
    for n in range(NEAREST + 2):
        Site.objects.create(
            code=f"far-{n}",
            name=f"Far {n}",
            timezone="Europe/Vienna",
            latitude=50.0 - n / 10,
            longitude=16.0,
        )
    names = [site.code for site in asked(request).sites]
    assert names == [f"far-{n}" for n in range(NEAREST + 1, 1, -1)]
    assert [site.code for site in asked(request, site="far-0").sites] == ["far-0"]


def test_nothing_is_offered_before_the_person_can_be_there(here: World) -> None:
    """At 9:00 on the wall with 70 minutes of travel, the first told time is 10:10."""
    request = here.request("r")
    RequestSite.objects.filter(request=request).update(travel=70)
    found = asked(request, first=DAY, last=DAY)
    assert told(found.times)[0] == 9 * 60 + 70


def test_the_times_of_the_person_are_kept(here: World) -> None:
    request = here.request("r")
    RequestTime.objects.create(request=request, day=NEXT, minute=600, minutes=60)
    found = asked(request)
    assert {time.day for time in found.times} == {NEXT}
    assert all(600 <= time.minute <= 660 - time.minutes for time in found.times)


def test_a_booked_request_keeps_its_place_among_the_times(here: World) -> None:
    request = here.request("r")
    first = asked(request, first=NEXT, last=NEXT).times[0]
    here.book(request, first.minute, day=NEXT, minutes=first.minutes)
    found = asked(request, first=NEXT, last=NEXT)
    assert [time.told for time in found.times if time.now] == [first.told]
    assert first.told + GRAIN in told(found.times)


def test_a_fixed_appointment_may_be_moved_by_hand(here: World) -> None:
    request = here.request("r")
    here.book(request, 600, day=NEXT, fixed=True)
    assert len(asked(request, first=NEXT, last=NEXT).times) > 50


def test_a_full_site_says_so_and_who_could_move(here: World) -> None:
    """One technician, there on two days for one session each, and the first of them is taken."""
    other = here.request("other")
    minutes = asked(other, first=NEXT, last=NEXT).times[0].minutes
    Shift.objects.all().delete()
    later = NEXT + timedelta(days=1)
    for day in (NEXT, later):
        Shift.objects.create(
            technician=here.technicians[0], site=here.site, **span(day, 540, minutes + 4)
        )
    here.book(other, 540, day=NEXT, minutes=minutes)
    request = here.request("r", due=NEXT)
    RequestTime.objects.create(request=request, day=NEXT, minute=0, minutes=1440)
    found = asked(request)
    assert found.times == ()
    assert [reason.code for reason in found.reasons] == [FULL]
    assert [(each.other, each.to.day) for each in found.given] == [("other", later)]
    assert "ask other to move" in found.reasons[0].remedy


def span(day: date, minute: int, minutes: int) -> dict[str, object]:
    """A time in winter in Vienna, an hour before UTC."""
    starts = NOW.replace(hour=0) + (day - DAY) + timedelta(minutes=minute - 60)
    ends = starts + timedelta(minutes=minutes)
    return {"day": day, "minute": minute, "minutes": minutes, "starts_at": starts, "ends_at": ends}


def test_why_there_is_no_time_is_told_with_the_nearest_remedy(here: World) -> None:
    request = here.request("r")
    assert ask(request, now=NOW, sites=[]).reasons[0].code == NO_SITE
    asked_for = Feature.objects.create(code="low-counter")
    request.features.add(asked_for)
    found = asked(request).reasons[0]
    assert (found.code, found.detail) == (NOBODY_ABLE, "no station at Site 1 offers low-counter")
    request.features.clear()
    RequestTime.objects.create(request=request, day=NEXT, minute=0, minutes=300)
    assert asked(request).reasons[0].code == NEVER_OPEN
    request.times.all().delete()
    found = asked(request, first=DAY + timedelta(days=5), last=DAY + timedelta(days=6)).reasons[0]
    assert found.code == NARROWED
    Shift.objects.all().delete()
    assert "no technician is rostered at Site 1" in asked(request).reasons[0].detail


def test_what_cannot_be_booked_is_refused_by_name(here: World) -> None:
    request = here.request("r")
    here.book(request, 600)
    appointment_step(appointment=request.appointments.get(), action="arrive", by=here.desk)
    with pytest.raises(BadValue, match="r: is arrived"):
        asked(request)
    closed = request_close(request=here.request("c"), why="withdrawn")
    with pytest.raises(BadValue, match="c: is closed"):
        asked(closed)


def test_a_record_that_breaks_the_rules_still_answers(here: World) -> None:
    """Hours and shifts were cut, a skill was added, after people were booked."""
    for n, minute in enumerate((490, 700, 1000)):
        here.book(here.request(f"b-{n}"), minute, day=NEXT)
    here.profile.skills.add(Skill.objects.create(code="new"))
    here.technicians[1].skills.add(Skill.objects.get())
    here.site.hours.update(opens=500, closes=1000)
    Shift.objects.filter(technician=here.technicians[0], day=NEXT).delete()
    found = asked(here.request("r"), first=NEXT, last=NEXT)
    assert {time.technician for time in found.times} == {"t-2"}
    assert told(found.times)[0] == 500
    for time in found.times:
        assert time.station != "st-1" or time.minute + time.minutes <= 700 or time.minute >= 720


def test_prices_of_the_last_plan_are_words_and_days_without_say_so(here: World) -> None:
    run = PlanRun.objects.create(first_day=DAY, days=3)
    for n in range(9):
        SitePrice.objects.create(
            run=run,
            site=here.site,
            day=NEXT + timedelta(days=n),
            part="am",
            station_minute=n,
            technician_minute=0,
        )
    words = {}
    for n in (0, 3, 7):
        day = NEXT + timedelta(days=n)
        words[n] = asked(here.request(f"r-{n}"), first=day, last=day, part="am").times[0].level
    assert words == {0: "quiet", 3: "usual", 7: "scarce"}
    late = asked(here.request("r"), first=DAY + timedelta(days=10), last=DAY + timedelta(days=11))
    assert {time.level for time in late.times} <= {"not priced", "scarce"}


def test_as_many_queries_for_one_booking_as_for_many(here: World) -> None:
    request = here.request("r")
    counts = []
    for batch in (1, 12):
        for n in range(batch):
            here.book(here.request(f"b-{batch}-{n}"), 480 + 25 * n, day=NEXT + timedelta(batch % 5))
        forget()
        with CaptureQueriesContext(connection) as seen:
            asked(request)
        counts.append(len(seen))
    assert counts[0] == counts[1]
    with CaptureQueriesContext(connection) as seen:
        asked(request)
    assert len(seen) < ceil(counts[0] * 0.7)
