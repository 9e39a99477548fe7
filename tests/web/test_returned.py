"""The returned place: the ageing table, one return from reading to rework, and registering."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from planner.web import returned
from sites.models import (
    ExceptionRoute,
    Notice,
    Request,
    Response,
    ResponseKind,
    Role,
    Submission,
)
from sites.services.requests import request_rework
from tests.sites.build import DAY, World
from tests.web.lived import answered, submitted

UNREAD = "/returned/set/c-back-unread/"


def read(client: Client) -> Any:
    """Mark the unread return as read."""
    return client.post(UNREAD, {"do": "read"}, follow=True)


def test_the_ageing_table_counts_by_step_and_age_and_opens_the_queue(
    desk: Client, here: World
) -> None:
    """Came back on Thursday 26 February; on Monday 2 March that is two working days."""
    page = desk.get("/returned/")
    counts = {step.todo.value: dict(step.counts) for step in page.context["steps"]}
    assert counts["read"] == {"0-1": 0, "2-5": 1, "6-10": 0, "over 10": 0}
    assert counts["ask"]["2-5"] == 1
    assert sum(sum(each.values()) for each in counts.values()) == 2
    row = desk.get("/returned/?step=read&age=2-5")
    assert [each.response.submission.control_number for each in row.context["waiting"]] == [
        "c-back-unread"
    ]
    assert "late" in row.content.decode()
    assert "Nothing waits at this step" in desk.get("/returned/?step=fix").content.decode()


def test_the_queue_takes_as_many_queries_for_three_as_for_one(
    desk: Client, here: World, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(QUERIES):
        desk.get("/returned/")
    for number, kind in enumerate((ResponseKind.DATA, ResponseKind.IMAGE)):
        answered(submitted(here, f"more-{number}", 850 + 30 * number), kind, 1)
    with django_assert_num_queries(QUERIES):
        desk.get("/returned/")


QUERIES = 7


def test_sets_that_were_not_sent_on_are_the_oldest_and_all_are_counted(
    desk: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    Response.objects.filter(submission__control_number__startswith="c-past").delete()
    Submission.objects.filter(control_number__startswith="c-past").delete()
    answer = desk.get("/returned/")
    assert (len(answer.context["unsent"]), answer.context["more_unsent"]) == (6, 0)
    assert "These are the oldest" not in answer.content.decode()
    everybody = [each.session.pk for each in answer.context["unsent"]]
    monkeypatch.setattr(returned, "UNSENT", 4)
    answer = desk.get("/returned/")
    assert [each.session.pk for each in answer.context["unsent"]] == everybody[:4]
    text = answer.content.decode()
    assert "These are the oldest 4; 2 more were captured and not sent on." in text
    assert desk.get("/requests/?standing=captured").context["total"] == 6


def test_ticked_ones_are_read_together(desk: Client, here: World) -> None:
    key = Response.objects.get(submission__control_number="c-back-unread").pk
    page = desk.post("/returned/", {"response": [key, "x"]}, follow=True)
    assert "1 response is read" in page.content.decode()
    assert Response.objects.get(pk=key).read_by == here.desk
    assert Notice.objects.filter(kind="returned", request__reference="back-unread").count() == 1


def test_a_return_is_read_the_subject_reached_and_the_session_asked_for(
    desk: Client, here: World
) -> None:
    page = read(desk)
    assert "Subject to contact".lower() in page.content.decode()
    desk.post(UNREAD, {"do": "reached"})
    page = desk.get(UNREAD)
    form = page.context["form"]
    assert "7 days of hand care first" in form.initial["advice"]
    sent = {name: form.initial[name] for name in form.fields}
    done = desk.post(UNREAD, {**sent, "do": "ask", "advice": "Longer, after care."}, follow=True)
    assert "Request back-unread-2 asks for the session" in done.content.decode()
    rework = Request.objects.get(reference="back-unread-2")
    assert (str(rework.release), rework.advice) == ("2026-03-09", "Longer, after care.")
    assert "Why this session" in desk.get("/requests/back-unread-2/").content.decode()
    twice = desk.post(UNREAD, {**sent, "do": "ask"})
    assert twice.status_code == 409
    assert "has its rework already" in twice.content.decode()


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("release", "2026-04-30", "lies after the due date"),
        ("release", "soon", "Enter a valid date"),
        ("sites", "", "This field is required"),
        ("profile", "none", "Select a valid choice"),
    ],
)
def test_a_session_that_cannot_be_asked_for_is_said_in_the_form(
    desk: Client, here: World, field: str, value: str, words: str
) -> None:
    form = desk.get(UNREAD).context["form"]
    sent = {name: form.initial[name] for name in form.fields}
    answer = desk.post(UNREAD, {**sent, field: value or [], "do": "ask"})
    assert words in answer.content.decode()
    assert not Request.objects.filter(reference="back-unread-2").exists()


def test_a_desk_return_asks_for_a_new_number_and_then_is_closed(desk: Client, here: World) -> None:
    answered(submitted(here, "data", 850), ResponseKind.DATA, 3)
    address = "/returned/set/c-data/"
    desk.post(address, {"do": "read"})
    page = desk.get(address).content.decode()
    assert "Nobody has to come" in page
    assert "The session that should follow" not in page
    taken = desk.post(address, {"do": "fix", "control_number": "c-data"})
    assert "was used already" in taken.content.decode()
    desk.post(address, {"do": "fix", "control_number": "c-data-2"})
    assert Submission.objects.get(control_number="c-data-2").returned_control_number == "c-data"
    assert desk.get(address).context["todo"] == "done"


def test_a_second_image_return_shows_the_exception_route(desk: Client, here: World) -> None:
    first = Response.objects.get(submission__control_number="c-back-told")
    second = submitted(here, "twice", 850)
    rework = request_rework(response=first, reference="back-told-2", today=DAY)
    Submission.objects.filter(pk=second.pk).update(request=rework)
    answered(Submission.objects.get(pk=second.pk), ResponseKind.IMAGE, 1)
    page = desk.get("/returned/").content.decode()
    assert "c-back-told, c-twice" in page
    assert "Sat 30 May 2026" in page  # 1 March and 90 days
    one = desk.get("/returned/set/c-twice/").content.decode()
    assert "A plan, not a decision about a person." in one
    assert "which comes first" in one
    desk.post("/returned/set/c-twice/", {"do": "exception"})
    assert ExceptionRoute.objects.get().asked_by == here.desk
    assert "Exception route: check asked for" in desk.get("/requests/back-told-2/").content.decode()


def test_one_response_is_registered_once(desk: Client, here: World) -> None:
    values = {"do": "one", "number": "c-sent", "kind": "image", "code": "Q7", "day": "2026-03-01"}
    page = desk.post("/returned/register/", values, follow=True)
    assert "is registered" in page.content.decode()
    page = desk.post("/returned/register/", values, follow=True)
    assert "was there already" in page.content.decode()
    page = desk.post("/returned/register/", {**values, "number": "c-nobody"})
    assert "is of no set that was sent on" in page.content.decode()
    page = desk.post("/returned/register/", {**values, "day": "1 March"})
    assert "Enter a valid date" in page.content.decode()


def test_a_file_is_shown_before_its_good_rows_are_registered(desk: Client, here: World) -> None:
    lines = (
        b"control number,kind,code,date\nc-sent,data,,2026-03-01\nc-x,image,,2026-03-01\n"
        b"c-past-0,accepted,,2026-02-28\n"
    )
    before = Response.objects.count()
    page = desk.post("/returned/register/", {"file": SimpleUploadedFile("back.csv", lines)})
    text = page.content.decode()
    assert "1 to register, 1 there already, 1 at fault" in text
    assert "is of no set that was sent on" in text
    assert Response.objects.count() == before
    sent = {"lines": page.context["text"], "save": "yes"}
    done = desk.post("/returned/register/", sent, follow=True)
    assert "1 response is registered" in done.content.decode()
    assert Response.objects.get(submission__control_number="c-sent").kind == "data"


def test_no_file_and_a_broken_one_are_said(desk: Client) -> None:
    assert "Choose a file" in desk.post("/returned/register/", {}).content.decode()
    broken = SimpleUploadedFile("back.csv", b"\xff\xfe\x00")
    answer = desk.post("/returned/register/", {"file": broken})
    assert "is not UTF-8 text" in answer.content.decode()


def test_who_only_looks_is_offered_nothing_to_press(client: Client, here: World) -> None:
    for role in (Role.SITE_LEAD, Role.MANAGER, Role.AUDITOR):
        client.force_login(here.users[role])
        for address in ("/returned/", UNREAD):
            main = client.get(address).content.decode().split("<main", 1)[1].split("<footer")[0]
            assert "<button" not in main, (role, address)
