"""Cancelling, not coming, coming later, and the waiting list, by their pages."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from sites.models import Appointment, Proposal, Request, Step, Waiting
from sites.services.waiting import waiting_join
from tests.sites.build import DAY, World
from tests.web.lived import NOW

NEXT = DAY + timedelta(days=1)


def seen(client: Client, name: str, page: str) -> str:
    """What a form of a request carries."""
    return str(client.get(f"/requests/{name}/{page}/").context["seen"])


def test_an_appointment_is_cancelled_with_a_reason(desk: Client) -> None:
    data = {"seen": seen(desk, "booked", "cancel"), "why": "booked by mistake"}
    without = desk.post("/requests/booked/cancel/", {**data, "why": ""})
    assert "This field is required" in without.text
    answer = desk.post("/requests/booked/cancel/", data, follow=True)
    assert "Cancelled: Mon 2 Mar 2026, told 11:30" in answer.text
    one = Appointment.objects.get(request__reference="booked")
    assert (one.step, one.why) == (Step.CANCELLED, "booked by mistake")
    assert "<b>cancelled</b> booked by mistake" in answer.text


def test_a_cancel_form_sent_twice_cancels_once(desk: Client) -> None:
    data = {"seen": seen(desk, "booked", "cancel"), "why": "booked by mistake"}
    assert desk.post("/requests/booked/cancel/", data).status_code == 302
    again = desk.post("/requests/booked/cancel/", data)
    assert again.status_code == 409
    assert "Nothing was changed" in again.text
    assert Appointment.objects.get(request__reference="booked").events.count() == 2


def test_somebody_who_moved_it_meanwhile_is_not_overruled(desk: Client, here: World) -> None:
    data = {"seen": seen(desk, "booked", "cancel"), "why": "booked by mistake"}
    Appointment.objects.filter(request__reference="booked").update(version=7)
    assert desk.post("/requests/booked/cancel/", data).status_code == 409
    assert Appointment.objects.get(request__reference="booked").step == Step.BOOKED


def test_who_did_not_come_is_kept_only_after_the_told_time(desk: Client, here: World) -> None:
    early = desk.post("/requests/booked/missed/", {"seen": seen(desk, "booked", "missed")})
    assert "no appointment whose time has come" in early.text
    here.book(here.request("past"), 500, station=here.stations[1], technician=here.technicians[1])
    answer = desk.post("/requests/past/missed/", {"seen": seen(desk, "past", "missed")})
    assert answer["Location"] == "/requests/past/offers/"
    assert Appointment.objects.get(request__reference="past").step == Step.NO_SHOW


@pytest.mark.parametrize(("chosen", "days"), [("0", 7), ("1", 14), ("2", 28)])
def test_hands_that_are_not_ready_come_back_from_a_day_on(
    desk: Client, here: World, chosen: str, days: int
) -> None:
    """7 days of hand care, 14 for a cut, 28 for a cast: defaults of ours, shown as such."""
    late = here.request("late-due", due=DAY + timedelta(days=60))
    here.book(late, 500, day=NEXT)
    data = {"seen": seen(desk, "late-due", "later"), "first": chosen}
    answer = desk.post("/requests/late-due/later/", data)
    day = DAY + timedelta(days=days)
    assert answer["Location"] == f"/requests/late-due/offers/?first={day.isoformat()}"
    one = Appointment.objects.get(request=late)
    assert one.step == Step.CANCELLED
    assert "hand" not in one.why
    assert "heal" not in one.why
    times = desk.get(f"/requests/late-due/offers/?first={DAY.isoformat()}").context["rows"]
    assert all(time.day >= day for _, time in times)
    assert [row.day for row in late.times.all()] == [day]


def test_a_day_after_the_due_date_is_warned_of_before_it_is_kept(desk: Client) -> None:
    data = {"seen": seen(desk, "free", "later"), "first": "2"}
    warned = desk.post("/requests/free/later/", data)
    assert warned.status_code == 200
    assert "That is after the due date" in warned.text
    request = Request.objects.get(reference="free")
    assert not request.times.exists()
    kept = desk.post("/requests/free/later/", {**data, "late_seen": "2026-03-30"})
    assert kept.status_code == 302
    assert [row.day for row in request.times.all()] == [DAY + timedelta(days=28)]


def test_a_day_after_the_request_expires_is_refused_with_the_remedy(desk: Client) -> None:
    data = {
        "seen": seen(desk, "free", "later"),
        "first": "other",
        "other": "2027-03-01",
        "late_seen": "2027-03-01",
    }
    answer = desk.post("/requests/free/later/", data)
    assert "ask the programme whether it extends the request" in answer.text
    assert not Request.objects.get(reference="free").times.exists()


def test_a_request_is_put_on_the_list_changed_and_taken_off(desk: Client) -> None:
    data = {"seen": "none", "first": "2026-03-05", "part": "am", "hours_ahead": "24"}
    assert desk.post("/requests/free/wait/", data)["Location"] == "/waiting/"
    page = desk.get("/waiting/").text
    assert "from Thu 5 Mar 2026, before noon; told 24 h ahead" in page
    assert desk.post("/requests/free/wait/", {**data, "part": "pm"}).status_code == 302
    assert Waiting.objects.get().part == "pm"
    desk.post("/requests/free/wait/", {**data, "stop": "yes"})
    assert "Nobody waits" in desk.get("/waiting/").text
    lines = [each.what for each in desk.get("/requests/free/").context["happenings"]]
    assert lines[-2:] == ["put on the waiting list", "off the waiting list"]


def test_a_cancelled_time_is_put_to_who_is_next_and_the_page_says_so(
    desk: Client, here: World
) -> None:
    """Both technicians are busy but for what one of them gives back."""
    for station, technician in zip(here.stations, here.technicians, strict=True):
        for start in (480, 780):
            name = f"day-{station.code}-{start}"
            here.book(
                here.request(name),
                start,
                day=NEXT,
                minutes=300,
                station=station,
                technician=technician,
            )
    waiting_join(
        request=Request.objects.get(reference="free"),
        by=here.desk,
        hours_ahead=1,
        first_day=NEXT,
        last_day=NEXT,
        at=NOW,
    )
    assert "Nothing that would do" in desk.post("/waiting/", {"look": "yes"}, follow=True).text
    name = "day-st-1-480"
    data = {"seen": seen(desk, name, "cancel"), "why": "the need has ended"}
    answer = desk.post(f"/requests/{name}/cancel/", data, follow=True)
    assert "It is put to free, next on the waiting list: Tue 3 Mar 2026, told 08:00" in answer.text
    proposal = Proposal.objects.get()
    taken = desk.post("/waiting/", {"accept": str(proposal.pk)}, follow=True)
    assert "free has the time: Tue 3 Mar 2026, told 08:00" in taken.text
    assert desk.post("/waiting/", {"accept": str(proposal.pk)}).status_code == 409
    assert Appointment.objects.filter(request__reference="free").count() == 1
