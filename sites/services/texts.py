"""A programme's own texts of notices."""

from __future__ import annotations

from sites.errors import BadValue
from sites.models import NoticeKind, NoticeText, Programme
from sites.notices.defaults import Text
from sites.notices.words import require_known
from sites.services.write import written


@written
def text_set(
    *, programme: Programme, kind: NoticeKind, language: str, heading: str, body: str
) -> NoticeText:
    """Give a programme its own text for a kind of notice, in a language or for every one ("").

    Raises BadValue for a variable that is not known there, and for an empty or broken subject line.
    """
    text = text_checked(kind=kind, heading=heading, body=body)
    row, _ = NoticeText.objects.update_or_create(
        programme=programme,
        kind=kind,
        language=language.strip(),
        defaults={"heading": text.heading, "body": text.body},
    )
    return row


def text_checked(*, kind: NoticeKind, heading: str, body: str) -> Text:
    """A text that can be sent. Raises BadValue."""
    if not heading.strip() or not body.strip():
        raise BadValue("the text", "has no words", "write a subject line and a text")
    if len(heading.splitlines()) > 1:
        raise BadValue("the subject line", "has more than one line", "take the break out")
    require_known(kind, heading, heading=True)
    require_known(kind, body)
    return Text(heading.strip(), body.strip())


@written
def text_drop(*, text: NoticeText) -> None:
    """Take a programme's own text away: its text for every language counts again, or ours."""
    NoticeText.objects.filter(pk=text.pk).delete()
