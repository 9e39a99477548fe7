"""Texts of notices: a programme's own words, looked at before they are kept."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from django.http import Http404
from django.utils.translation import check_for_language

from planner.api.filters import Filters, Named, OneOf
from planner.api.find import one
from planner.api.operation import Act, Listing, Read
from planner.api.pages import Orders
from planner.api.shapes import notices as shapes
from planner.gateway.present import now
from sites.models import NoticeKind, NoticeText, Programme, User
from sites.notices.defaults import DEFAULTS, Text
from sites.notices.shown import text_shown
from sites.notices.words import VARIABLES, known
from sites.services.texts import text_checked, text_drop, text_set

EVERY = "every"
"""In an address: for every language without its own text."""


class TextFilters(Filters):
    """Texts by programme and kind."""

    programme = Named(field_name="programme__code", label="Code of the programme.")
    kind = OneOf(NoticeKind.values, label="Kind of notice.")


class TextsList(Listing):
    """The texts that programmes have of their own; every other notice is sent in ours."""

    rule, tag, gives, filters = "setup.see", "notices", shapes.TextShape, TextFilters
    orders: ClassVar[Orders] = {"made": ("pk",)}

    def rows(self, user: User) -> QuerySet[Any]:
        """Texts."""
        return NoticeText.objects.select_related("programme")


def asked(path: dict[str, Any]) -> Any:
    """The text of an address: the programme's own, or ours, unsaved. Raises Http404.

    With ``variables`` and ``heading_variables``, by name and meaning.
    """
    programme = one(Programme.objects.all(), "programme", code=path["programme"])
    kind, language = path["notice_kind"], path["language"]
    if kind not in NoticeKind.values:
        raise Http404(f"There is no kind of notice {kind}: {', '.join(NoticeKind.values)}.")
    if language != EVERY and not check_for_language(language):
        raise Http404(f"{language} is no language tag: write one such as de, or {EVERY}.")
    tag = "" if language == EVERY else language
    rows = NoticeText.objects.filter(programme=programme, kind=kind, language=tag)
    own = rows.select_related("programme").first()
    ours = DEFAULTS[NoticeKind(kind)]
    found: Any = own or NoticeText(
        programme=programme, kind=kind, language=tag, heading=ours.heading, body=ours.body
    )
    found.variables = named(known(NoticeKind(kind)))
    found.heading_variables = named(known(NoticeKind(kind), heading=True))
    return found


def named(names: tuple[str, ...]) -> list[dict[str, str]]:
    """Variables with what they stand for."""
    return [{"name": name, "means": VARIABLES[name]} for name in names]


class TextRead(Read):
    """The words of a kind of notice: the programme's own, or ours, with what they can ask for."""

    rule, tag, gives = "setup.see", "notices", shapes.TextWithVariablesShape

    def find(self, user: User, **path: Any) -> Any:
        """By programme, kind and language."""
        return asked(path)


class TextLook(Read):
    """The words in force, filled in for an invented subject."""

    rule, tag, gives = "setup.see", "notices", shapes.LetterShape

    def find(self, user: User, **path: Any) -> Any:
        """The letter."""
        row = asked(path)
        return shown(row, Text(row.heading, row.body))


class TextTry(Act):
    """Other words, filled in for an invented subject; nothing is kept."""

    rule, tag, takes, gives = "setup.change", "notices", shapes.TextIn, shapes.LetterShape
    status, replays = 200, False

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """The letter."""
        row = asked(self.kwargs)
        return shown(row, text_checked(kind=NoticeKind(row.kind), **values))


def shown(row: NoticeText, text: Text) -> Any:
    """The letter in some words."""
    kind, language = NoticeKind(row.kind), row.language
    return text_shown(programme=row.programme, kind=kind, text=text, language=language, at=now())


class OnText(Act):
    """A change of a text."""

    rule, tag, gives, on, status = (
        "setup.change",
        "notices",
        shapes.TextWithVariablesShape,
        TextRead,
        200,
    )

    def locked(self, request: Any, path: dict[str, Any]) -> Any:
        """The text; its programme is held, for where it has none of its own there is no row."""
        rows = Programme.objects.select_for_update().filter(code=path["programme"])
        list(rows.order_by())
        return super().locked(request, path)


class TextSet(OnText):
    """Give a programme its own words for a kind of notice, from now on."""

    takes = shapes.TextIn

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Keep them."""
        text_set(
            programme=thing.programme,
            kind=NoticeKind(thing.kind),
            language=thing.language,
            **values,
        )
        return asked(self.kwargs)


class TextDrop(OnText):
    """Take a programme's own words away: its text for every language counts again, or ours."""

    def act(self, thing: Any, values: dict[str, Any]) -> Any:
        """Delete them. Raises Http404 where there are none."""
        if thing.pk is None:
            raise Http404("The programme has no text of its own here: ours is sent.")
        text_drop(text=thing)
        return asked(self.kwargs)
