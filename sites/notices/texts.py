"""The words of a notice: a programme's own, else ours."""

from __future__ import annotations

from sites.models import NoticeKind, Programme
from sites.notices.defaults import DEFAULTS, Text
from sites.selectors.texts import text_for


def words_for(*, programme: Programme, kind: NoticeKind, language: str) -> Text:
    """The text that a subject of this language gets from a programme."""
    own = text_for(programme=programme, kind=kind, language=language)
    return Text(own.heading, own.body) if own else DEFAULTS[kind]
