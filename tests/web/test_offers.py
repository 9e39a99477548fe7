"""The offers of one request: listed, narrowed, taken once, and fresh where somebody was faster."""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.test import Client

from sites.models import ACTIVE, Appointment, Request, Role, Site, Station
from tests.sites.build import DAY, World

NEXT = DAY + timedelta(days=1)
AT = "site-1|2026-03-03|600"
ONE_DAY = "first=2026-03-03&last=2026-03-03&top=60"


def told(client: Client, query: str = ONE_DAY, name: str = "free") -> list[tuple[date, int]]:
    """The day and told time of each row, in order."""
    answer = client.get(f"/requests/{name}/offers/?{query}")
    assert answer.status_code == 200
    return [(time.day, time.told) for _, time in answer.context["rows"]]


def take(client: Client, key: str = AT, seen: str = "none", name: str = "free") -> int:
    """Take a time; the status of the answer."""
    data = {"take": key, "seen": seen}
    return client.post(f"/requests/{name}/offers/", data).status_code


def test_the_first_nine_times_have_a_key(desk: Client) -> None:
    answer = desk.get(f"/requests/free/offers/?{ONE_DAY}")
    keys = [key for key, _ in answer.context["rows"]]
    assert keys[:10] == [1, 2, 3, 4, 5, 6, 7, 8, 9, None]
    assert re.findall(r'data-key="(\d)"', answer.text) == list("123456789")


def test_the_address_narrows_the_times(desk: Client) -> None:
    assert {day for day, _ in told(desk)} == {NEXT}
    assert all(minute < 720 for _, minute in told(desk, f"{ONE_DAY}&part=am"))
    assert all(minute >= 720 for _, minute in told(desk, f"{ONE_DAY}&part=pm"))
    assert len(told(desk, "top=4")) == 4


def test_a_wrong_narrowing_is_named_and_the_rest_holds(desk: Client) -> None:
    answer = desk.get(f"/requests/free/offers/?{ONE_DAY}&part=eve&site=nowhere")
    assert answer.text.count("Not narrowed by this") == 2
    assert {time.day for _, time in answer.context["rows"]} == {NEXT}


def test_the_fragment_is_the_pages_own_part(desk: Client) -> None:
    part = desk.get(f"/requests/free/offers/?{ONE_DAY}", headers={"HX-Request": "true"})
    assert "<html" not in part.text
    assert "60 times, best first" in part.text
    assert "HX-Request" in part["Vary"]


def test_a_time_is_booked_and_said(desk: Client) -> None:
    answer = desk.post("/requests/free/offers/", {"take": AT, "seen": "none"}, follow=True)
    assert "free is booked: Tue 3 Mar 2026, told 10:00, at Site 1" in answer.text
    assert Appointment.objects.get(request__reference="free").told_minute == 600


def test_a_form_sent_twice_books_once(desk: Client) -> None:
    assert [take(desk), take(desk)] == [302, 302]
    assert Appointment.objects.get(request__reference="free").events.count() == 1


def test_who_was_slower_sees_the_times_that_are_free_now(desk: Client, here: World) -> None:
    """One station is left; another coordinator takes 10:00 while this page is open."""
    Station.objects.filter(code="st-2").update(in_use=False)
    assert (NEXT, 600) in told(desk)
    here.book(here.request("faster"), 600, day=NEXT)
    answer = desk.post(f"/requests/free/offers/?{ONE_DAY}", {"take": AT, "seen": "none"})
    assert answer.status_code == 409
    assert "Nothing was changed" in answer.text
    assert "Tue 3 Mar 2026 at 10:00 is not free any more" in answer.text
    fresh = [time.told for _, time in answer.context["rows"]]
    assert fresh
    assert 600 not in fresh
    assert not Appointment.objects.filter(request__reference="free").exists()


def test_a_page_that_is_stale_changes_nothing(desk: Client, here: World) -> None:
    here.book(Request.objects.get(reference="free"), 500, day=NEXT)
    assert take(desk) == 409
    assert Appointment.objects.get(request__reference="free").minute == 500


def test_a_booked_request_is_moved(desk: Client) -> None:
    seen = desk.get("/requests/booked/offers/").context["seen"]
    assert take(desk, seen=seen, name="booked") == 302
    assert take(desk, seen=seen, name="booked") == 302
    one = Appointment.objects.get(request__reference="booked")
    assert (one.day, one.told_minute) == (NEXT, 600)
    assert [event.what for event in one.events.all()] == ["book", "move"]


def test_no_time_is_looked_for_where_the_person_is_there_already(desk: Client) -> None:
    answer = desk.get("/requests/arrived/offers/")
    assert answer.status_code == 200
    assert "No times are looked for" in answer.text
    assert take(desk, name="arrived") == 409


@pytest.mark.parametrize("key", ["", "nothing", "site-1|x|y"])
def test_a_key_of_no_list_is_refused(desk: Client, key: str) -> None:
    assert take(desk, key) == 409
    assert not Appointment.objects.filter(request__reference="free").exists()


def test_where_nothing_is_free_the_reason_and_the_remedy_are_told(
    desk: Client, here: World
) -> None:
    here.request("far", release=DAY + timedelta(days=40), due=DAY + timedelta(days=50))
    answer = desk.get("/requests/far/offers/")
    assert "no technician is rostered at Site 1" in answer.text
    assert "Nearest remedy" in answer.text


def test_the_request_page_says_why_there_is_no_place_and_offers_three_times(desk: Client) -> None:
    page = desk.get("/requests/free/")
    assert "By when" in page.text
    assert 'hx-get="/requests/free/next/"' in page.text
    part = desk.get("/requests/free/next/").text
    assert "No plan and no coordinator has booked it yet" in part
    assert part.count('name="take"') == 3
    assert "Nobody came on Mon 2 Mar 2026" in desk.get("/requests/gone/next/").text


def test_only_times_at_own_sites_are_offered_and_taken(client: Client, here: World) -> None:
    """A request that two sites accept, and a coordinator who covers the other one."""
    other = Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna")
    here.request("both", sites=[here.site, other])
    user = type(here.desk).objects.create(username="other", role=Role.COORDINATOR)
    user.covers.add(other)
    client.force_login(user)
    assert told(client, name="both") == []
    assert take(client, name="both") == 409
    assert not Appointment.objects.filter(request__reference="both", step__in=ACTIVE).exists()


def test_an_appointment_at_a_site_of_others_stays(client: Client, here: World) -> None:
    other = Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna")
    here.book(here.request("both", sites=[here.site, other]), 500, day=NEXT)
    user = type(here.desk).objects.create(username="other", role=Role.COORDINATOR)
    user.covers.add(other)
    client.force_login(user)
    for path in ("offers", "cancel", "later"):
        answer = client.post(f"/requests/both/{path}/", {"take": AT, "why": "x", "first": "0"})
        assert answer.status_code == 403
        assert "somebody who covers it" in answer.text
