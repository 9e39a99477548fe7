"""Rows of notices and their texts."""

from __future__ import annotations

from collections.abc import Callable

from sites.models import Notice, NoticeKind, NoticeState, Role, User
from sites.models.notice import NoticeText
from tests.api.operations.row import ABROAD, COORDINATORS, OFFICE, Row, get, post
from tests.sites.build import World

ADMINISTRATOR = (Role.ADMINISTRATOR,)
TEXT = "texts/{programme}/{notice_kind}/{language}/"
NAMED = {"programme": "p-one", "notice_kind": "booked", "language": "every"}
WORDS = {"heading": "Come: {programme}", "body": "Dear {name},\n\nyou come on {day} at {time}."}


def notice(state: NoticeState) -> Callable[[World, User], dict[str, str]]:
    """The notice of a booking, at a state."""

    def find(_: World, __: User) -> dict[str, str]:
        rows = Notice.objects.filter(request__reference="booked", kind=NoticeKind.BOOKED)
        one = rows.order_by("pk")[0]
        Notice.objects.filter(pk=one.pk).update(state=state, fault="the server refused it")
        return {"notice": f"{one.pk}"}

    return find


def own_text(here: World, _: User) -> dict[str, str]:
    """A text that the programme has of its own."""
    NoticeText.objects.update_or_create(
        programme=here.programme, kind=NoticeKind.MOVED, language="", defaults=WORDS
    )
    return {**NAMED, "notice_kind": "moved"}


def on_notice(verb: str, path: str, roles: tuple[Role, ...], **more: object) -> Row:
    """An operation on a notice that failed."""
    method = {"get": get, "post": post}[verb]
    found = notice(NoticeState.FAILED)
    return method(f"notices/{{notice}}/{path}", roles, abroad=ABROAD, finds=found, **more)


ROWS: dict[str, Row] = {
    "notices_list": get("notices/", OFFICE, query={"state": "waiting", "request": "booked"}),
    "notice_read": on_notice("get", "", OFFICE),
    "notice_letter": on_notice("get", "letter/", OFFICE),
    "notice_calendar": on_notice("get", "calendar/", OFFICE),
    "notice_told": on_notice("post", "told/", COORDINATORS, on="notice_read", body={}),
    "notice_again": on_notice("post", "again/", COORDINATORS, on="notice_read", body={}),
    "notices_again": post("notices/again/", COORDINATORS, body={}),
    "texts_list": get("texts/", OFFICE, query={"programme": "p-one"}),
    "text_read": get(TEXT, OFFICE, parts=NAMED),
    "text_look": get(f"{TEXT}preview/", OFFICE, parts=NAMED),
    "text_try": post(f"{TEXT}preview/", ADMINISTRATOR, parts=NAMED, body=WORDS),
    "text_set": post(f"{TEXT}words/", ADMINISTRATOR, parts=NAMED, body=WORDS, on="text_read"),
    "text_drop": post(f"{TEXT}drop/", ADMINISTRATOR, finds=own_text, body={}, on="text_read"),
}
