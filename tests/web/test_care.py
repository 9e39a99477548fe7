"""The care page, and the forms that say first whom they would move."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from sites.models import Appointment, AppointmentEvent, CareWindow, Downtime, Role, Step
from tests.sites.build import DAY, World

DOWN = {
    "station": "st-1",
    "day": f"{DAY}",
    "time": "11:20",
    "minutes": "60",
    "reason": "lines in the picture",
}
CARE = {
    "station": "st-1",
    "kind": "calibration",
    "day": f"{DAY}",
    "time": "14:00",
    "minutes": "20",
    "technician": "t-1",
    "note": "",
}


def look(client: Client, what: str, values: dict[str, str]) -> Any:
    """The first answer."""
    return client.post(f"/care/site-1/{what}/", {**values, "look": "yes"})


def save(client: Client, what: str, values: dict[str, str], seen: str) -> Any:
    """The second answer."""
    return client.post(f"/care/site-1/{what}/", {**values, "save": "yes", "seen": seen})


def test_it_names_who_would_move_and_saves_nothing(desk: Client, here: World) -> None:
    before = Downtime.objects.count()
    answer = look(desk, "downtime", DOWN)
    assert [row.request.reference for row in answer.context["moves"]] == ["booked"]
    text = answer.content.decode()
    assert "1 would lose their place" in text
    assert "/requests/booked/" in text
    assert Downtime.objects.count() == before


def test_a_save_without_a_look_is_shown_first(desk: Client) -> None:
    before = Downtime.objects.count()
    answer = save(desk, "downtime", DOWN, seen="")
    assert answer.status_code == 200
    assert "Look again" in answer.content.decode()
    assert Downtime.objects.count() == before


def test_the_second_answer_saves_and_says_what_to_do(desk: Client, here: World) -> None:
    form = look(desk, "downtime", DOWN).context["form"]
    answer = save(desk, "downtime", DOWN, form.seen())
    assert answer.status_code == 302
    down = Downtime.objects.get(reason=DOWN["reason"])
    assert (down.day, down.minute, down.minutes) == (DAY, 680, 60)
    moved = Appointment.objects.get(request__reference="booked")
    assert moved.step == Step.DISPLACED
    event = AppointmentEvent.objects.filter(appointment=moved).last()
    assert event is not None
    assert event.by == here.users[Role.COORDINATOR]
    page = desk.get("/care/site-1/").content.decode()
    assert "1 person lost their place: find them another time and tell them." in page
    assert "lines in the picture" in page


def test_somebody_booked_between_the_answers_is_shown(desk: Client, here: World) -> None:
    seen = look(desk, "downtime", DOWN).context["form"].seen()
    here.book(here.request("newcomer"), 720)
    answer = save(desk, "downtime", DOWN, seen)
    assert [row.request.reference for row in answer.context["moves"]] == ["booked", "newcomer"]
    assert "Look again" in answer.content.decode()
    assert not Downtime.objects.filter(reason=DOWN["reason"]).exists()


def test_care_with_a_technician_moves_who_has_them(desk: Client, here: World) -> None:
    values = {**CARE, "time": "11:00", "station": "st-2"}
    answer = look(desk, "window", values)
    assert [row.request.reference for row in answer.context["moves"]] == ["back-again-2"]
    assert save(desk, "window", values, answer.context["form"].seen()).status_code == 302
    window = CareWindow.objects.get(kind="calibration")
    assert (window.minute, window.minutes, window.fixed) == (660, 20, True)
    assert Appointment.objects.get(request__reference="back-again-2").step == Step.DISPLACED


def test_what_the_record_refuses_is_said_in_the_form(desk: Client) -> None:
    values = {**DOWN, "time": "13:00", "minutes": "10"}
    seen = look(desk, "downtime", values).context["form"].seen()
    answer = save(desk, "downtime", values, seen)
    assert answer.status_code == 200
    assert "that time is taken: choose another time" in answer.content.decode()
    assert not Downtime.objects.filter(reason=DOWN["reason"]).exists()


@pytest.mark.parametrize(
    ("field", "value"),
    [("minutes", "0"), ("minutes", "x"), ("day", "soon"), ("time", "25:00"), ("station", "st-9")],
)
def test_a_wrong_value_is_named_at_its_field(desk: Client, field: str, value: str) -> None:
    answer = look(desk, "downtime", {**DOWN, field: value})
    assert field in answer.context["form"].errors
    assert f'id="id_{field}_error"' in answer.content.decode()
    assert f'aria-describedby="id_{field}_error"' in answer.content.decode()


def test_an_hour_that_the_clock_leaves_out_is_refused(desk: Client) -> None:
    """Vienna's clocks go forward on 29 March 2026 from 02:00 to 03:00 (EU directive 2000/84)."""
    answer = look(desk, "downtime", {**DOWN, "day": "2026-03-29", "time": "02:30"})
    assert "clocks go forward over it" in answer.content.decode()


def test_htmx_gets_the_form_alone_and_is_sent_on(desk: Client) -> None:
    asked = {"HX-Request": "true"}
    answer = desk.post("/care/site-1/downtime/", {**DOWN, "look": "yes"}, headers=asked)
    assert "<html" not in answer.content.decode()
    seen = answer.context["form"].seen()
    values = {**DOWN, "save": "yes", "seen": seen}
    assert desk.post("/care/site-1/downtime/", values, headers=asked)["HX-Redirect"] == (
        "/care/site-1/"
    )


def test_what_is_due_by_rule_says_how_pressing(
    desk: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(11):
        answer = desk.get("/care/site-1/")
    assert [each.word for each in answer.context["due"]] == ["late", "late"]
    assert [row.code for row in answer.context["planned"]] == ["clean-1"]
    assert [row.reason for row in answer.context["downs"]] == ["platen cracked"]
    line = desk.get("/care/").context["lines"][0]
    assert (line.late, line.due, line.soon) == (2, 0, 0)
