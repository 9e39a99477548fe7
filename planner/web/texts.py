"""Texts of notices: which programme has its own, and one text with a preview."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import check_for_language

from planner.web.access import Page
from planner.web.now import now
from sites.access import may
from sites.errors import RecordError
from sites.models import NoticeKind, NoticeText, Programme
from sites.notices.defaults import DEFAULTS, Text
from sites.notices.shown import text_shown
from sites.notices.words import VARIABLES, known, require_known
from sites.services.texts import text_drop, text_set


class TextsPage(Page):
    """Which programme says what in its own words."""

    template_name = "web/texts.html"
    place = "set-up"
    rule = "setup.see"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """A row a programme and kind, two queries."""
        own: dict[tuple[int, str], list[NoticeText]] = {}
        for text in NoticeText.objects.all():
            own.setdefault((text.programme_id, text.kind), []).append(text)
        rows = [
            (programme, kind, own.get((programme.pk, kind.value), []))
            for programme in Programme.objects.all()
            for kind in NoticeKind
        ]
        return super().get_context_data(rows=rows, **kwargs)


class TextForm(forms.Form):
    """One text of a kind."""

    language = forms.CharField(
        required=False,
        max_length=16,
        help_text="A language tag such as de or pt-BR; empty: for every language without its own",
    )
    heading = forms.CharField(max_length=120, label="Subject line")
    body = forms.CharField(max_length=8000, label="Text", widget=forms.Textarea(attrs={"rows": 24}))

    def __init__(self, *args: Any, kind: NoticeKind, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind = kind

    def clean_language(self) -> str:
        """A tag, as far as that can be told."""
        tag = str(self.cleaned_data["language"]).strip()
        if tag and not check_for_language(tag):
            raise forms.ValidationError(f"{tag} is no language tag: write one such as de or pt-BR.")
        return tag

    def clean_heading(self) -> str:
        """Only what says nothing of a person."""
        return self.checked("heading", heading=True)

    def clean_body(self) -> str:
        """Only variables that there are."""
        return self.checked("body")

    def checked(self, name: str, *, heading: bool = False) -> str:
        """The text, or the record's sentence as this field's error."""
        text = str(self.cleaned_data[name])
        try:
            require_known(self.kind, text, heading=heading)
        except RecordError as error:
            raise forms.ValidationError(
                f"{error.value} {error.problem}: {error.remedy}."
            ) from error
        return text


class TextPage(Page):
    """One text: shown filled with an invented subject before it is saved."""

    template_name = "web/text.html"
    fragment = "web/text_body.html"
    place = "set-up"
    rule = "setup.see"
    rule_to_write = "setup.change"

    def asked(self) -> tuple[Programme, NoticeKind]:
        """Programme and kind of the address."""
        if self.kwargs["kind"] not in NoticeKind.values:
            raise Http404("There is no such kind of notice.")
        programme = get_object_or_404(Programme, code=self.kwargs["programme"])
        return programme, NoticeKind(self.kwargs["kind"])

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The form with the text in force, and its preview."""
        programme, kind = self.asked()
        language = self.request.GET.get("language", "")
        own = NoticeText.objects.filter(programme=programme, kind=kind, language=language).first()
        text = Text(own.heading, own.body) if own else DEFAULTS[kind]
        form = kwargs.pop("form", None) or TextForm(
            kind=kind,
            initial={"language": language, "heading": text.heading, "body": text.body},
        )
        if form.is_bound and form.is_valid():
            language = form.cleaned_data["language"]
            text = Text(form.cleaned_data["heading"], form.cleaned_data["body"])
        return super().get_context_data(
            programme=programme,
            kind=kind,
            own=own,
            form=form,
            preview=None
            if form.errors
            else text_shown(programme=programme, kind=kind, text=text, language=language, at=now()),
            variables=[(name, VARIABLES[name]) for name in known(kind)],
            headings=known(kind, heading=True),
            may_change=may(self.user, "setup.change"),
            action=self.request.get_full_path(),
            **{name: value for name, value in kwargs.items() if name not in self.kwargs},
        )

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """Show it, save it, or go back to ours."""
        programme, kind = self.asked()
        form = TextForm(request.POST, kind=kind)
        if request.POST.get("do") == "drop":
            rows = NoticeText.objects.filter(
                programme=programme, kind=kind, language=request.GET.get("language", "")
            )
            text_drop(text=get_object_or_404(rows))
            messages.success(request, "The programme's own text is gone; ours is sent.")
            return self.there("texts")
        if form.is_valid() and request.POST.get("do") == "save":
            text_set(programme=programme, kind=kind, **form.cleaned_data)
            messages.success(request, f"{kind.label}: {programme} says it in these words from now.")
            return self.there("texts")
        page = self.get_context_data(form=form)
        return self.render_to_response(page)  # type: ignore[no-any-return]

    def there(self, name: str) -> HttpResponse:
        """On to a page, also from a fragment."""
        found = redirect(name)
        if getattr(self.request, "htmx", False):
            return HttpResponse(headers={"HX-Redirect": found.url})
        return found
