"""Intake: a file of candidates in three steps on one page, and one candidate by hand."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.cache import add_never_cache_headers

from planner.web.access import Page
from planner.web.intake_forms import (
    CandidateForm,
    ColumnsForm,
    DecisionForm,
    FileForm,
    refused,
)
from planner.web.now import now, today
from planner.web.requests import whole
from sites.errors import RecordError
from sites.models import FindingKind, Intake, IntakeStep
from sites.selectors.intakes import (
    around,
    column_heads,
    finding_counts,
    findings,
    intake_sample,
    intakes_of,
    intakes_recent,
    with_values,
)
from sites.services.candidates import candidates_take
from sites.services.doubles import person_alike
from sites.services.intakes import (
    intake_choose,
    intake_give,
    intake_leave,
    intake_read,
    intakes_forget,
)
from sites.services.taking import intake_decide, intake_take

SHOWN = 50
KINDS = [FindingKind.FAULT, FindingKind.DOUBLE, FindingKind.KNOWN, FindingKind.NOTE]


class IntakePage(Page):
    """A page of the intake; a form that cannot be taken comes back with what is wrong."""

    rule = "intake.change"

    def answer(self, **context: Any) -> HttpResponse:
        """The page with a form as it was sent."""
        page: HttpResponse = self.render_to_response(self.get_context_data(**context))
        return page


class IntakeStart(IntakePage):
    """Where requests come in: by a file, or one by one."""

    template_name = "web/intake.html"
    place = "requests"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The form for a file, and the files that were given last."""
        intakes_forget(at=now())
        kwargs.setdefault("form", FileForm())
        return super().get_context_data(recent=intakes_recent(), **kwargs)

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """Keep the file and go to its page."""
        form = FileForm(request.POST, request.FILES)
        if not form.is_valid():
            return self.answer(form=form)
        name = form.cleaned_data["file"].name or "file"
        one = intake_give(table=form.table, file_name=name, by=self.user, at=now())
        return redirect("intake-file", one.code)


class IntakeFile(IntakePage):
    """One file: its columns, the faults by row, and what will happen."""

    template_name = "web/intake_file.html"
    fragment = "web/intake_file_body.html"
    place = "requests"

    def one(self) -> Intake:
        """The file, where it is one's own."""
        return get_object_or_404(intakes_of(user=self.user), code=self.kwargs["code"])

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """What the file's step asks for."""
        intakes_forget(at=now())
        one = self.one()
        context: dict[str, Any] = {"one": one, "action": self.request.path}
        if one.step == IntakeStep.COLUMNS or "columns" in kwargs or self.asked("columns"):
            context["columns"] = kwargs.pop("columns", None) or ColumnsForm(intake=one)
            context["sample"] = intake_sample(intake=one)
        elif one.step == IntakeStep.CHECKED:
            context |= self.checked(one)
            kwargs.setdefault("decision", DecisionForm(intake=one))
        return super().get_context_data(**context, **kwargs)

    def asked(self, name: str) -> bool:
        """Whether the address asks for a step that was done before."""
        return self.request.GET.get("step") == name and self.one().step in {
            IntakeStep.CHECKING,
            IntakeStep.CHECKED,
        }

    def checked(self, one: Intake) -> dict[str, Any]:
        """What was found, a page of it with values."""
        kind = self.request.GET.get("kind", "")
        kinds = [kind] if kind in KINDS else [str(each) for each in KINDS]
        pages = Paginator(findings(intake=one, kinds=kinds), SHOWN)
        page = pages.get_page(whole(self.request.GET.get("page")))
        heads = column_heads(intake=one)
        counts = [(heads.get(row[0], ""), *row[1:]) for row in finding_counts(intake=one)]
        return {
            "found": with_values(intake=one, found=list(page.object_list)),
            "page": page,
            "counts": counts[:20],
            "kind": kind if kind in KINDS else "",
        }

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """Do what the button says; a refusal stands on the page."""
        one = self.one()
        acts = {
            "columns": self.choose,
            "read": self.read,
            "take": self.take,
            "leave": self.leave,
        }
        act = acts.get(request.POST.get("act", ""))
        context: dict[str, Any] = {}
        try:
            context = act(one) if act else {}
        except RecordError as error:
            context = {"refused": refused(error)}
        htmx = getattr(request, "htmx", False)
        if not htmx and not context:
            return redirect(self.request.path)
        page = self.answer(**context)
        if htmx:
            page["HX-Replace-Url"] = self.request.path
        return page

    def choose(self, one: Intake) -> dict[str, Any]:
        """Confirm the columns; the rows are read from here."""
        form = ColumnsForm(self.request.POST, intake=one)
        if not form.is_valid():
            return {"columns": form}
        values = form.cleaned_data
        try:
            intake_choose(
                intake=one,
                mapping=form.chosen(),
                order=values["order"] if form.written else "",
                programme=values["programme"],
                profile=values["profile"],
                received=values["received"],
            )
        except RecordError as error:
            form.add_error(None, refused(error))
            return {"columns": form}
        return {}

    def read(self, one: Intake) -> dict[str, Any]:
        """Read the next rows, or write what was decided on."""
        if one.step == IntakeStep.TAKING:
            intake_take(intake=one, at=now())
        else:
            intake_read(intake=one)
        return {}

    def take(self, one: Intake) -> dict[str, Any]:
        """Decide; the page then asks for the writing."""
        form = DecisionForm(self.request.POST, intake=one)
        if not form.is_valid():
            return {"decision": form}
        values = form.cleaned_data
        alike, all_ = values.get("alike") == "yes", values.get("whole") == "whole"
        intake_decide(intake=one, whole=all_, alike=alike)
        return {}

    def leave(self, one: Intake) -> dict[str, Any]:
        """Delete the file's rows."""
        intake_leave(intake=one, at=now())
        return {}

    def render_to_response(self, context: dict[str, Any], **kwargs: Any) -> Any:
        """Nothing of a file is kept by caches."""
        response = super().render_to_response(context, **kwargs)
        add_never_cache_headers(response)
        return response


class CandidatePage(IntakePage):
    """One candidate by hand, read as a row of a file is."""

    template_name = "web/candidate.html"
    place = "requests"

    def form(self, data: Any = None) -> CandidateForm:
        """The form, with the sites that somebody sees."""
        known = around(today=today(), seen_by=self.user)
        return CandidateForm(data, around=known, initial={"received": today().isoformat()})

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The empty form, or the one that was sent."""
        kwargs.setdefault("form", self.form())
        return super().get_context_data(**kwargs)

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """Take the candidate in, unless it is likely a double that nobody looked at."""
        form = self.form(request.POST)
        same = ""
        if form.is_valid() and form.candidate is not None:
            same = person_alike(candidate=form.candidate, today=today(), seen_by=self.user)
            if not same or form.cleaned_data["own"]:
                try:
                    [made] = candidates_take(candidates=[form.candidate])
                except RecordError as error:
                    form.add_error("reference", refused(error))
                else:
                    messages.success(request, f"Request {made.reference} is taken in.")
                    return redirect(reverse("request", args=[made.reference]))
        return self.answer(form=form, same=same)
