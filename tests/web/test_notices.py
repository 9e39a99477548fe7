"""The notices pages: what has to be seen to, one letter, its calendar file, and who sees whom."""

from __future__ import annotations

from typing import Any

import pytest
import vobject
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from sites.models import Notice, NoticeState, Role, Subject
from sites.outbox import send_due
from tests.sites.build import World

PHONE = "+00 555 0147 0031"


@pytest.fixture
def told(here: World) -> World:
    """After a sender came by: nobody has an address, one has one that is none."""
    Subject.objects.filter(reference="s-booked").update(phone=PHONE, given_name="Ilmi")
    Subject.objects.filter(reference="s-free").update(email="nowhere")
    here.book(Subject.objects.get(reference="s-free").requests.get(), 900)
    send_due()
    return here


def test_what_needs_a_person_comes_first_and_by_itself(desk: Client, told: World) -> None:
    page = desk.get("/notices/")
    lines = page.context["lines"]
    assert lines[0].notice.state == NoticeState.FAILED
    assert {line.notice.state for line in lines} == {"failed", "phone"}
    assert PHONE in page.content.decode()
    every = desk.get("/notices/?state=all")
    assert every.context["total"] == Notice.objects.count()
    one = desk.get("/notices/?q=booked")
    assert [line.notice.request.reference for line in one.context["lines"]] == ["booked"]
    assert desk.get("/notices/?kind=moved").context["total"] == 0


def test_the_list_takes_a_fixed_number_of_queries(
    desk: Client, told: World, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for address in ("/notices/", "/notices/?state=all"):
        with django_assert_num_queries(6):
            desk.get(address)


def test_told_by_phone_is_kept_with_who_and_when(desk: Client, told: World) -> None:
    desk.post("/notices/booked/1/", {"do": "told", "back": "list"})
    notice = Notice.objects.get(request__reference="booked")
    assert (notice.state, notice.told_by) == (NoticeState.TOLD, told.desk)
    page = desk.get("/notices/booked/1/").content.decode()
    assert "by coordinator" in page
    again = desk.post("/notices/booked/1/", {"do": "again"})
    assert again.status_code == 409
    assert "was told already" in again.content.decode()


def test_what_failed_is_sent_again_once_it_is_mended(
    desk: Client, told: World, mailoutbox: Any
) -> None:
    page = desk.get("/notices/").content.decode()
    assert "Send all 1 that failed again" in page
    subject = Subject.objects.get(reference="s-free")
    subject.email = "ilmi@example.invalid"
    subject.save()
    desk.post("/notices/")
    send_due()
    assert [message.to for message in mailoutbox] == [["ilmi@example.invalid"]]
    assert "Send all" not in desk.get("/notices/").content.decode()


def test_a_letter_names_the_person_only_to_who_may_see_the_name(
    client: Client, told: World
) -> None:
    for role, named in (
        (Role.COORDINATOR, True),
        (Role.ADMINISTRATOR, True),
        (Role.SITE_LEAD, True),  # on the day of the visit, to check identity
        (Role.MANAGER, False),
        (Role.AUDITOR, False),
    ):
        client.force_login(told.users[role])
        text = client.get("/notices/booked/1/").content.decode()
        assert ("Dear Ilmi" in text) == named, role
        assert ("(the subject&#x27;s name)" in text) == (not named), role
        assert (PHONE in text) == (role in (Role.COORDINATOR, Role.ADMINISTRATOR)), role


def test_the_calendar_file_opens_elsewhere_and_names_nobody(desk: Client, told: World) -> None:
    answer = desk.get("/notices/booked/1/calendar/")
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    event = vobject.readOne(answer.content.decode()).vevent
    assert event.dtstart.value.isoformat() == "2026-03-02T11:30:00+01:00"
    assert b"Ilmi" not in answer.content
    assert b"mailto" not in answer.content
    assert desk.get("/notices/back-told/2/calendar/").status_code == 404


def test_a_letter_is_made_for_paper(desk: Client, told: World) -> None:
    text = desk.get("/notices/booked/1/").content.decode()
    assert 'class="letter"' in text
    assert "moisturise your hands at least twice a day" in text
    assert "fresh cut, a blister or a bandage" in text


def test_without_a_mail_server_the_page_says_what_to_set(
    desk: Client, here: World, settings: Any
) -> None:
    settings.MAIL = ""
    assert "PLATEN_EMAIL_URL" in desk.get("/notices/").content.decode()
    settings.MAIL = "smtp://x"
    assert "PLATEN_EMAIL_URL" not in desk.get("/notices/").content.decode()
