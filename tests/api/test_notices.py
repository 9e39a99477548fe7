"""Notices and their texts by calls: what a person has to see to, letters, a programme's words."""

from __future__ import annotations

import icalendar
import pytest

from sites.models import Notice, NoticeKind, NoticeState, Role, Subject
from sites.models.notice import NoticeText
from tests.api.calls import Caller, problem
from tests.sites.build import World

TEXT = "texts/p-one/booked/every/"
WORDS = {"heading": "Come: {programme}", "body": "Dear {name},\n\nyou come on {day} at {time}."}


@pytest.fixture
def failed(here: World) -> Notice:
    """The notice of a booking, which a mail server refused; its subject has a name."""
    Subject.objects.filter(reference="s-booked").update(family_name="Tavoren")
    notice = Notice.objects.get(request__reference="booked", kind=NoticeKind.BOOKED)
    notice.state, notice.fault = NoticeState.FAILED, "the server refused it"
    notice.save()
    return notice


def test_what_a_person_has_to_see_to_is_listed_with_the_reason(
    desk: Caller, failed: Notice
) -> None:
    rows = desk.get("notices/?to_do=true").json()["results"]
    assert [(each["id"], each["request"], each["why"]) for each in rows] == [
        (failed.pk, "booked", "the server refused it")
    ]
    assert desk.get("notices/?state=failed&request=free").json()["results"] == []
    everything = desk.get("notices/?limit=200").json()["results"]
    assert len(everything) == Notice.objects.count() > 1
    assert b"Tavoren" not in desk.get("notices/").content


def test_what_failed_is_sent_again_one_or_all(desk: Caller, failed: Notice) -> None:
    place = f"notices/{failed.pk}/"
    done = desk.change(f"{place}again/").json()
    assert (done["state"], done["why"]) == ("waiting", "")
    problem(desk.change(f"{place}again/"), 409, "changed_meanwhile")
    Notice.objects.filter(pk=failed.pk).update(state=NoticeState.FAILED, fault="x", tries=4)
    assert desk.post("notices/again/").json() == {"waiting": 1}
    failed.refresh_from_db()
    assert (failed.state, failed.tries) == (NoticeState.WAITING, 0)
    assert desk.post("notices/again/").json() == {"waiting": 0}


def test_who_is_told_by_phone_is_kept_with_who_told_them(
    desk: Caller, here: World, failed: Notice
) -> None:
    done = desk.change(f"notices/{failed.pk}/told/").json()
    assert (done["state"], done["told_by"]) == ("told", here.desk.username)
    problem(desk.change(f"notices/{failed.pk}/again/"), 409, "step_refused")


def test_a_letter_names_its_subject_only_to_who_may_see_it(
    desk: Caller, here: World, failed: Notice
) -> None:
    place = f"notices/{failed.pk}/letter/"
    answer = desk.get(place)
    assert answer["Cache-Control"] == "no-store"
    assert "Tavoren" in answer.json()["text"]
    assert "Tavoren" not in answer.json()["heading"]
    for role in (Role.MANAGER, Role.AUDITOR):
        other = Caller(here.users[role]).get(place)
        assert "Tavoren" not in other.content.decode()
        assert "(the subject's name)" in other.json()["text"]


def test_its_calendar_file_names_nobody(desk: Caller, failed: Notice) -> None:
    """Read by icalendar, which had no part in writing it (RFC 5545, 3.4 and 3.6.1)."""
    answer = desk.get(f"notices/{failed.pk}/calendar/")
    assert answer["Content-Type"].startswith("text/calendar")
    [event] = icalendar.Calendar.from_ical(answer.content).walk("VEVENT")
    assert "ATTENDEE" not in event
    assert b"Tavoren" not in answer.content
    back = Notice.objects.filter(kind=NoticeKind.RETURNED).first()
    assert back is not None
    problem(desk.get(f"notices/{back.pk}/calendar/"), 404, "not_found")


def test_a_programmes_words_are_tried_kept_and_taken_away(here: World) -> None:
    chief = Caller(here.users[Role.ADMINISTRATOR])
    ours = chief.get(TEXT).json()
    assert ours["own"] is False
    assert {"name": "site", "means": "the site's name"} in ours["heading_variables"]
    tried = chief.post(f"{TEXT}preview/", WORDS).json()
    assert tried["heading"] == "Come: Programme one"
    # by hand: two weeks after Monday 2 March 2026, at the time of the sample
    assert "you come on Monday 16 March 2026 at 10:30." in tried["text"]
    assert not NoticeText.objects.exists()
    kept = chief.change(f"{TEXT}words/", WORDS)
    assert (kept.json()["own"], kept.json()["body"]) == (True, WORDS["body"])
    assert chief.get(f"{TEXT}preview/").json() == tried
    assert [each["kind"] for each in chief.get("texts/").json()["results"]] == ["booked"]
    gone = chief.change(f"{TEXT}drop/").json()
    assert (gone["own"], gone["heading"]) == (False, ours["heading"])
    problem(chief.change(f"{TEXT}drop/"), 404, "not_found")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"heading": "Dear {name}"}, "not known in a subject line"),
        ({"body": "{shoe}"}, "is not known here"),
        ({"body": "a {"}, "stands alone"),
        ({"heading": "two\nlines"}, "more than one line"),
    ],
)
def test_words_that_cannot_be_sent_are_refused(
    here: World, changes: dict[str, str], words: str
) -> None:
    chief = Caller(here.users[Role.ADMINISTRATOR])
    for answer in (
        chief.post(f"{TEXT}preview/", WORDS | changes),
        chief.change(f"{TEXT}words/", WORDS | changes),
    ):
        assert words in problem(answer, 422, "bad_value")["detail"]


def test_a_text_of_a_language_or_kind_that_is_none(desk: Caller) -> None:
    for place in ("texts/p-one/booked/xx-nonsense/", "texts/p-one/birthday/every/", "texts/p/x/y/"):
        problem(desk.get(place), 404, "not_found")
