"""Planning runs: asked for, followed, looked at, decided on; nothing is booked before that."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from sites.access import plan_runs_visible
from sites.models import Appointment, PlanRun, Request, Role, RunState, Site
from tests.sites.build import DAY, World
from tests.web.planned import (
    ASIDE,
    FAILED,
    FIRST,
    PLANNING,
    READY,
    STOPPED,
    WAITING,
    finished,
)

LIST = 8
"""Queries of the list: session, person, sites, all sites, counts, number, runs, their sites."""
ASK = {"first_day": "2026-03-03", "days": "5", "which": "all", "seconds": "60"}
HTMX = {"HX-Request": "true"}


def page_of(client: Client, number: int, query: str = "") -> Any:
    answer = client.get(f"/runs/{number}/{query}")
    assert answer.status_code == 200
    return answer


def booked_by(run: int) -> set[str]:
    rows = Appointment.objects.filter(plan_run=run)
    return set(rows.values_list("request__reference", flat=True))


def accept(client: Client, run: int) -> Any:
    seen = client.get(f"/runs/{run}/accept/").context["seen"]
    return client.post(f"/runs/{run}/accept/", {"seen": seen})


def test_the_list_says_where_each_run_stands(desk: Client) -> None:
    answer = desk.get("/runs/")
    states = {line.run.pk: line.state for line in answer.context["lines"]}
    assert states == {
        READY: "Ready for review",
        WAITING: "Waiting",
        PLANNING: "Planning",
        FAILED: "Failed",
        STOPPED: "Stopped without a plan",
        ASIDE: "Put aside",
    }
    found = desk.get("/runs/?state=ready").context["lines"]
    assert [line.run.pk for line in found] == [READY]
    assert "No run stands there" in desk.get("/runs/?state=kept").content.decode()
    assert len(desk.get("/runs/?state=asleep").context["lines"]) == 6


def test_many_runs_come_by_pages_with_the_same_queries(
    desk: Client, here: World, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(LIST):
        desk.get("/runs/")
    for number in range(100, 130):
        run = PlanRun.objects.create(pk=number, first_day=FIRST, days=1, by=here.desk)
        run.sites.add(here.site)
    with django_assert_num_queries(LIST):
        answer = desk.get("/runs/?page=2")
    assert len(answer.context["lines"]) == 11


def test_an_empty_list_says_what_would_fill_it(desk: Client) -> None:
    PlanRun.objects.all().delete()
    assert "There is no run yet" in desk.get("/runs/").content.decode()


def test_a_run_is_asked_for_and_books_nothing(desk: Client, here: World) -> None:
    before = Appointment.objects.count()
    answer = desk.post("/runs/new/", ASK)
    run = PlanRun.objects.order_by("-pk").first()
    assert run is not None
    assert answer["Location"] == f"/runs/{run.pk}/"
    assert (run.state, run.by, run.seconds, run.requests) == ("waiting", here.desk, 60, None)
    assert list(run.sites.all()) == [here.site]
    assert Appointment.objects.count() == before


def test_who_sees_everywhere_asks_for_all_sites_or_some(here: World, client: Client) -> None:
    client.force_login(here.users[Role.MANAGER])
    client.post("/runs/new/", ASK)
    client.post("/runs/new/", {**ASK, "sites": ["site-1"]})
    second, first = PlanRun.objects.order_by("-pk")[:2]
    assert (first.sites.count(), second.sites.count()) == (0, 1)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"first_day": "2026-03-01"}, "is past: choose 2026-03-02 or a later day"),
        ({"days": "43"}, "less than or equal to 42"),
        ({"which": "due"}, "Say on or before which day"),
        ({"which": "listed"}, "Write at least one reference"),
        ({"which": "listed", "listed": "free nobody"}, "No such request in your view: nobody."),
        ({"which": "due", "due": "2020-01-01"}, "No request in your view needs a session"),
        ({"sites": "site-9"}, "site-9"),
    ],
)
def test_what_cannot_be_planned_is_named_and_nothing_is_asked_for(
    desk: Client, values: dict[str, str], words: str
) -> None:
    before = PlanRun.objects.count()
    answer = desk.post("/runs/new/", {**ASK, **values})
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert PlanRun.objects.count() == before


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ({"which": "rework"}, ["back-again-2"]),
        ({"which": "due", "due": "2026-03-01"}, ["late"]),
        ({"which": "listed", "listed": "free,\nlate free"}, ["free", "late"]),
    ],
)
def test_some_requests_alone_are_planned(
    desk: Client, values: dict[str, str], expected: list[str]
) -> None:
    desk.post("/runs/new/", {**ASK, **values})
    run = PlanRun.objects.order_by("-pk").first()
    assert run is not None
    assert run.requests == expected


def test_the_list_of_requests_proposes_what_was_chosen(desk: Client) -> None:
    form = desk.get("/runs/new/?request=free&request=late").context["form"]
    assert (form.initial["which"], form.initial["listed"]) == ("listed", "free\nlate")


def test_a_run_that_plans_tells_where_it_stands(desk: Client) -> None:
    text = page_of(desk, PLANNING).content.decode()
    for words in ("Planning</b>: improving", "1 234", "1 200", "2.9 %", 'hx-trigger="every 2s"'):
        assert words in text, words
    part = desk.get(f"/runs/{PLANNING}/", headers=HTMX).content.decode()
    assert "<html" not in part
    assert without_token(part).strip() in without_token(text)


def without_token(text: str) -> str:
    """Each rendering masks the form's token anew."""
    return re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", text)


def test_a_run_that_is_over_is_asked_after_no_more(desk: Client) -> None:
    for number in (READY, FAILED, STOPPED, ASIDE):
        assert "every 2s" not in page_of(desk, number).content.decode()
    failed = page_of(desk, FAILED).content.decode()
    assert "care clean-9: does not fit; widen its days" in failed
    assert "ended before there was a plan" in page_of(desk, STOPPED).content.decode()


def test_a_run_without_a_worker_says_so(desk: Client) -> None:
    assert "No worker took it yet" not in page_of(desk, WAITING).content.decode()
    run = PlanRun.objects.get(pk=WAITING)
    PlanRun.objects.filter(pk=WAITING).update(created_at=run.created_at - timedelta(minutes=2))
    assert "No worker took it yet" in page_of(desk, WAITING).content.decode()


def test_a_run_is_ended_by_hand(desk: Client, here: World) -> None:
    desk.post(f"/runs/{WAITING}/end/")
    assert PlanRun.objects.get(pk=WAITING).state == RunState.STOPPED
    desk.post(f"/runs/{PLANNING}/end/")
    run = PlanRun.objects.get(pk=PLANNING)
    assert (run.state, run.cancel_asked_by) == (RunState.PLANNING, here.desk)
    assert "It was asked to end by coordinator" in page_of(desk, PLANNING).content.decode()


def test_a_plan_is_laid_out_by_what_would_happen(desk: Client) -> None:
    found = page_of(desk, READY)
    kinds = {str(kind): count for kind, _, count, _ in found.context["kinds"]}
    assert kinds == {"new": 3, "moved": 0, "loses": 0, "out": 0, "stands": 0}
    assert {each["is"].request for each in found.context["lines"]} == {"free", "late", "gone"}
    figures = {row.name: row for row in found.context["rows"]}
    assert (figures["booked"].in_force, figures["booked"].here) == ("0", "3")
    assert figures["booked"].there == "3"  # of the run that was put aside
    assert found.context["difference"].same == 3
    loads = [cell.load.booked for row in found.context["loads"] for cell in row.cells]
    assert sum(loads) == 3


def test_lines_are_filtered_in_the_address(desk: Client) -> None:
    def shown(query: str) -> set[str]:
        return {each["is"].request for each in page_of(desk, READY, query).context["lines"]}

    assert shown("?q=LA") == {"late"}
    assert shown("?site=site-1") == {"free", "late", "gone"}
    assert shown("?kind=out") == set()
    assert shown("?day=2026-03-07") == set()
    assert "Nobody: no request" in page_of(desk, READY, "?day=2026-03-07").content.decode()


def test_accepting_all_books_everybody_once(desk: Client, here: World) -> None:
    answer = accept(desk, READY)
    assert answer["Location"] == f"/runs/{READY}/"
    assert booked_by(READY) == {"free", "late", "gone"}
    run = PlanRun.objects.get(pk=READY)
    assert (run.state, run.kept_by) == (RunState.KEPT, here.desk)
    text = page_of(desk, READY).content.decode()
    assert "What came of it" in text
    assert "Accept" not in text.split("What came of it")[1]
    again = desk.post(f"/runs/{READY}/accept/", {"seen": "whatever"})
    assert again.status_code == 409
    assert Appointment.objects.filter(plan_run=READY).count() == 3


def test_only_what_is_ticked_is_booked(desk: Client) -> None:
    shown = {"shown": ["free", "late", "gone"], "on": ["late"]}
    part = desk.post(f"/runs/{READY}/ticks/", shown, headers=HTMX).content.decode()
    assert "1 of 3 changes ticked" in part
    assert "<html" not in part
    ticks = {each["is"].request: each["on"] for each in page_of(desk, READY).context["lines"]}
    assert ticks == {"free": False, "gone": False, "late": True}
    accept(desk, READY)
    assert booked_by(READY) == {"late"}


def test_ticks_are_kept_without_script_and_by_filter(desk: Client) -> None:
    address = f"/runs/{READY}/ticks/?kind=new&q=la"
    answer = desk.post(address, {"every": "off"})
    assert answer["Location"] == f"/runs/{READY}/?kind=new&q=la#lines"
    assert page_of(desk, READY).context["ticked"] == 2
    desk.post(f"/runs/{READY}/ticks/", {"every": "off"})
    assert page_of(desk, READY).context["ticked"] == 0
    assert "Tick somebody" in page_of(desk, READY).content.decode()
    desk.post(address, {"every": "on"})
    assert page_of(desk, READY).context["ticked"] == 1
    desk.post(f"/runs/{READY}/ticks/", {"shown": ["of-another-run"], "on": []})
    assert page_of(desk, READY).context["ticked"] == 1


def test_ticks_that_changed_in_another_window_are_shown_before_anything_is_written(
    desk: Client,
) -> None:
    seen = desk.get(f"/runs/{READY}/accept/").context["seen"]
    desk.post(f"/runs/{READY}/ticks/", {"shown": ["late"], "on": []})
    answer = desk.post(f"/runs/{READY}/accept/", {"seen": seen})
    assert answer.status_code == 409
    assert "Look again" in answer.content.decode()
    assert booked_by(READY) == set()


def test_one_persons_ticks_are_not_anothers(desk: Client, here: World) -> None:
    desk.post(f"/runs/{READY}/ticks/", {"shown": ["late"], "on": []})
    lead = Client()
    lead.force_login(here.users[Role.SITE_LEAD])
    assert page_of(lead, READY).context["ticked"] == 3


def test_accepting_nothing_books_nothing(desk: Client) -> None:
    before = Appointment.objects.count()
    desk.post(f"/runs/{READY}/aside/")
    assert PlanRun.objects.get(pk=READY).state == RunState.PUT_ASIDE
    assert Appointment.objects.count() == before
    assert desk.get(f"/runs/{READY}/accept/").status_code == 409
    assert len(page_of(desk, READY).context["lines"]) == 3


def test_what_changed_meanwhile_is_shown_and_never_overwritten(desk: Client, here: World) -> None:
    lines = {each["is"].request: each["is"] for each in page_of(desk, READY).context["lines"]}
    mine = here.book(Request.objects.get(reference="late"), 700, day=DAY + timedelta(days=3))
    where = lines["free"].now
    other = here.book(
        here.request("walk-in"),
        where.told,
        day=where.day,
        station=next(each for each in here.stations if each.code == where.station),
        technician=next(each for each in here.technicians if each.code == where.technician),
    )
    seen = desk.get(f"/runs/{READY}/meanwhile/")
    changed = {each.request: each.problem for each in seen.context["changed"]}
    assert changed["late"] == "was booked meanwhile"
    assert changed["free"] == "its time is taken by somebody else now"
    accept(desk, READY)
    assert booked_by(READY) <= {"gone"}
    for one in (mine, other):
        now = Appointment.objects.get(pk=one.pk)
        assert (now.day, now.minute, now.version) == (one.day, one.minute, one.version)
    text = page_of(desk, READY).content.decode()
    assert "was booked meanwhile" in text


def test_who_may_look_but_not_book_is_offered_no_decision(here: World, client: Client) -> None:
    for role in (Role.MANAGER, Role.AUDITOR):
        client.force_login(here.users[role])
        text = page_of(client, READY).content.decode()
        assert "Accepting is for who books at these sites" in text
        assert "/aside/" not in text
        assert 'type="checkbox" name="on"' not in text


def test_a_run_over_other_sites_too_is_for_who_covers_them_all(here: World) -> None:
    PlanRun.objects.create(pk=50, first_day=FIRST, days=1)
    both = PlanRun.objects.create(pk=51, first_day=FIRST, days=1)
    assert {50, READY} <= set(plan_runs_visible(here.desk).values_list("pk", flat=True))
    second = Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna")
    both.sites.set([here.site, second])
    seen = set(plan_runs_visible(here.desk).values_list("pk", flat=True))
    assert READY in seen
    assert seen.isdisjoint({50, 51})
    here.desk.covers.add(second)
    assert {50, 51} <= set(plan_runs_visible(here.desk).values_list("pk", flat=True))
    assert not plan_runs_visible(here.users[Role.TECHNICIAN]).exists()


def test_many_lines_come_by_pages_and_keep_their_ticks(desk: Client, here: World) -> None:
    for number in range(60):
        here.request(f"many-{number:02d}")
    finished(here, 60)
    first = page_of(desk, 60)
    assert (len(first.context["lines"]), first.context["all_changes"]) == (50, 63)
    shown = [each["is"].request for each in first.context["lines"]]
    desk.post("/runs/60/ticks/", {"shown": shown, "on": shown[1:]})
    second = page_of(desk, 60, "?page=2")
    rest = [each["is"].request for each in second.context["lines"]]
    assert len(rest) == 13
    desk.post("/runs/60/ticks/", {"shown": rest, "on": rest[1:]})
    assert page_of(desk, 60).context["ticked"] == 61
    accept(desk, 60)
    assert len(booked_by(60)) == 61
    assert booked_by(60).isdisjoint({shown[0], rest[0]})
