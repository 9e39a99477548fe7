"""Texts of notices: by programme and language, with safe variables only, and as plain HTML."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.mail import EmailMultiAlternatives

from sites.errors import BadValue
from sites.models import NoticeKind, Site, Subject
from sites.notices.defaults import DEFAULTS
from sites.notices.letter import html_of
from sites.notices.words import VARIABLES, known, require_known
from sites.outbox import send_due
from sites.services.texts import text_drop, text_set
from tests.sites.build import World
from tests.sites.told import BEFORE, booked

Outbox = list[EmailMultiAlternatives]


@pytest.fixture(autouse=True)
def held(settings: Any) -> None:
    """Six days before the appointment."""
    settings.NOW = BEFORE


def own(here: World, language: str = "", **values: Any) -> Any:
    """A text of the programme."""
    given = {"heading": "Come, please", "body": "{name}: {day} {time}", **values}
    return text_set(programme=here.programme, kind=NoticeKind.BOOKED, language=language, **given)


@pytest.mark.parametrize("kind", NoticeKind)
def test_our_texts_only_use_variables_that_they_can_have(kind: NoticeKind) -> None:
    require_known(kind, DEFAULTS[kind].heading, heading=True)
    require_known(kind, DEFAULTS[kind].body)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{nmae}", r"\{nmae\}: is not known here; use one of \{name\}, \{reference\}"),
        ("{name.__class__}", "is not known here"),
        ("{0}", "is not known here"),
        ("{}", "is not known here"),
        ("{name", "a brace: stands alone"),
        ("name}", "a brace: stands alone"),
        ("{{name}}", "a brace: stands alone"),
        ("{% load x %}", "is not known here"),
    ],
)
def test_an_unknown_variable_is_refused_with_those_that_are_known(
    here: World, text: str, words: str
) -> None:
    with pytest.raises(BadValue, match=words):
        own(here, body=text)


@pytest.mark.parametrize("word", ["name", "reference", "day", "time", "contact"])
def test_a_subject_line_takes_nothing_that_speaks_of_a_person(here: World, word: str) -> None:
    with pytest.raises(BadValue, match="is not known in a subject line"):
        own(here, heading="For {" + word + "}")
    with pytest.raises(BadValue, match="more than one line"):
        own(here, heading="For\nBcc: all@example.invalid")


def test_a_return_knows_of_no_appointment(here: World) -> None:
    assert set(VARIABLES) - set(known(NoticeKind.RETURNED)) == {
        "site",
        "directions",
        "day",
        "time",
        "zone",
        "minutes",
    }
    with pytest.raises(BadValue, match="is not known here"):
        require_known(NoticeKind.RETURNED, "{day}")


@pytest.mark.parametrize(
    ("language", "first"),
    [
        ("de-AT", "Montag 2 März 2026"),
        ("de", "Montag 2 März 2026"),
        ("pt-BR", "for everybody: Segunda-feira 2 Março 2026"),
        ("xx-unknown", "for everybody: Monday 2 March 2026"),
        ("", "for everybody: Monday 2 March 2026"),
    ],
)
def test_the_language_of_the_subject_decides(
    here: World, mailoutbox: Outbox, language: str, first: str
) -> None:
    """Days in words: Django's own translations."""
    own(here, body="for everybody: {day}")
    own(here, "de", body="{day}")
    booked(here, language=language)
    send_due()
    assert mailoutbox[0].body == first
    assert mailoutbox[0].subject == "Come, please"


def test_without_a_text_of_its_own_a_programme_has_ours(here: World, mailoutbox: Outbox) -> None:
    text_drop(text=own(here))
    booked(here)
    send_due()
    assert mailoutbox[0].subject == "Your appointment: Programme one"


def test_values_cannot_write_html_nor_ask_for_more(here: World, mailoutbox: Outbox) -> None:
    Site.objects.update(directions="<script>1</script>\n{email}")
    own(here, body="Dear {name}\n\n{directions}")
    booked(here, given_name="<b>Ilmi</b>", family_name="{contact}\nBcc: x@example.invalid")
    send_due()
    html = str(mailoutbox[0].alternatives[0][0])
    assert "<script" not in html
    assert "<b>" not in html
    assert "&lt;b&gt;Ilmi&lt;/b&gt; {contact} Bcc: x@example.invalid" in html
    assert "{email}" in mailoutbox[0].body


@pytest.mark.parametrize("kind", NoticeKind)
def test_html_fetches_nothing_and_runs_nothing(kind: NoticeKind) -> None:
    html = html_of(DEFAULTS[kind].body)
    for word in ("http", "src=", "url(", "<script", "<img", "<link", "style"):
        assert word not in html
    assert html.count("<li>") == html.count("</li>")


def test_lines_become_paragraphs_and_lists() -> None:
    assert html_of("One\nline\n\nBring\n- a & b\n- c") == (
        "<p>One<br>line</p>\n<p>Bring</p>\n<ul><li>a &amp; b</li><li>c</li></ul>"
    )


def test_a_name_that_is_not_kept_is_not_invented(here: World, mailoutbox: Outbox) -> None:
    booked(here)
    Subject.objects.all().update(given_name="", family_name="")
    send_due()
    assert mailoutbox[0].body.startswith("Dear holder of number r-1,")
