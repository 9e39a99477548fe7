"""Registering responses: one by form, or many by a file that is shown first."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from planner.web.access import Page
from planner.web.now import now, today
from planner.web.returned_forms import ManyForm, OneForm
from sites.access import submissions_visible
from sites.errors import RecordError
from sites.services.returns import responses_register

FAULTS = 200
"""Faults on the page; all of them are counted."""


class RegisterPage(Page):
    """What came back: first it says what would be registered, nothing is kept before that."""

    template_name = "web/register.html"
    place = "requests"
    rule = "returns.change"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Both forms, empty unless one was sent."""
        kwargs.setdefault("one", OneForm(initial={"day": today().isoformat()}))
        kwargs.setdefault("many", self.many())
        return super().get_context_data(**kwargs)

    def many(self, *given: Any) -> ManyForm:
        """The form of a file."""
        return ManyForm(*given, now=now(), submissions=submissions_visible(self.user))

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """One, a look at many, or many that were looked at."""
        context = self.one(request) if request.POST.get("do") == "one" else self.file(request)
        if isinstance(context, HttpResponse):
            return context
        return self.render_to_response(self.get_context_data(**context))  # type: ignore[no-any-return]

    def one(self, request: HttpRequest) -> HttpResponse | dict[str, Any]:
        """Register one response."""
        form = OneForm(request.POST)
        if form.is_valid():
            try:
                said = form.save(now=now(), submissions=submissions_visible(self.user))
            except RecordError as error:
                form.add_error(None, f"{error.value} {error.problem}: {error.remedy}.")
            else:
                messages.success(request, said)
                return redirect("register")
        return {"one": form}

    def file(self, request: HttpRequest) -> HttpResponse | dict[str, Any]:
        """Say what a file would do; register it once that has been seen, all of it or nothing."""
        form = self.many(request.POST, request.FILES)
        context: dict[str, Any] = {"many": form}
        if not form.is_valid():
            return context
        sheet = form.sheet
        if request.POST.get("save") and not sheet.faults:
            count = responses_register(rows=sheet.rows)
            words = "1 response is" if count == 1 else f"{count} responses are"
            messages.success(request, f"{words} registered, {sheet.known} were there already.")
            return redirect("returned")
        counts: dict[str, int] = {}
        for row in sheet.rows:
            counts[row.kind.label] = counts.get(row.kind.label, 0) + 1
        return {
            **context,
            "sheet": sheet,
            "faults": sheet.faults[:FAULTS],
            "counts": sorted(counts.items()),
            "text": form.text(),
        }
