"""What somebody does to a run: end it, tick lines, accept, put aside."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from planner.gateway.record import look
from planner.gateway.review.book import Review
from planner.gateway.review.changed import changed_words
from planner.gateway.review.choice import changes_of, items_to_write
from planner.gateway.review.lines import CHANGES, Line
from planner.gateway.runs import land
from planner.gateway.runs.land import part_of
from planner.web.now import now
from planner.web.runs.one import RunView
from planner.web.runs.ticks import Ticks
from sites.models import PlanRun, RunState
from sites.services.runs import not_ready, run_cancel, run_put_aside

SHOWN = 200
"""Changes in the record that are listed; all of them are counted."""


class EndRun(RunView):
    """End a run now; the best plan so far is kept for review."""

    http_method_names = ("post",)
    rule_to_write = "runs.start"

    def post(self, request: HttpRequest, **_: Any) -> HttpResponse:
        """Ask the worker to end."""
        run = run_cancel(run=self.run().pk, by=self.user)
        if run.state in (RunState.WAITING, RunState.PLANNING):
            messages.success(request, "The run ends as soon as its worker hears of it.")
        return redirect("run", run.pk)


class Decides(RunView):
    """A page that decides on a run that is ready for review."""

    rule_to_write = "runs.accept"

    def ready(self) -> tuple[PlanRun, Review]:
        """The run and its plan. Raises NotReady where somebody decided meanwhile."""
        run = self.run()
        found = self.review_of(run) if run.state == RunState.READY else None
        if found is None:
            raise not_ready(run)
        return run, found


class TickLines(Decides):
    """Keep the ticks of one page of lines, or of all that the filters show."""

    http_method_names = ("post",)
    fragment = template_name = "web/runs/decide.html"

    def post(self, request: HttpRequest, **_: Any) -> HttpResponse:
        """Note them; htmx hears the new counts, a browser goes back to the page."""
        run, found = self.ready()
        ticks = Ticks(request.session, run)
        known = {line.request: line for line in found.lines if line.kind in CHANGES}
        if every := request.POST.get("every"):
            names = [line.request for line in self.shown(found)]
            ticks.set(names, names if every == "on" else ())
        else:
            ticks.set(
                [name for name in request.POST.getlist("shown") if name in known],
                set(request.POST.getlist("on")),
            )
        if getattr(request, "htmx", None):
            page = self.get_context_data(run=run, **counts(found, ticks), may_accept=True)
            return self.render_to_response(page)  # type: ignore[no-any-return]
        query = request.GET.urlencode()
        return redirect(f"{reverse('run', args=[run.pk])}?{query}#lines")

    def shown(self, found: Review) -> list[Line]:
        """Lines of the kind and filters in the URL."""
        filters = self.filters(found)
        lines = [line for line in found.lines if filters.shows(line)]
        kind = filters.value("kind")
        return [line for line in lines if line.kind in CHANGES and kind in (None, str(line.kind))]


def counts(found: Review, ticks: Ticks) -> dict[str, int]:
    """What is ticked, of all changes."""
    return {
        "ticked": len(ticks.on(found.lines)),
        "all_changes": sum(line.kind in CHANGES for line in found.lines),
    }


class AcceptRun(Decides):
    """What accepting would do to the record as it stands now; then do it."""

    rule = "runs.accept"
    template_name = "web/runs/accept.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """What is ticked, and what of it the record takes now."""
        run, found = self.ready()
        ticks = Ticks(self.request.session, run)
        on = ticks.on(found.lines)
        items = items_to_write(found.lines, without=ticks.off)
        seen = look(found.network, part_of(found.plan, items))
        return super().get_context_data(
            run=run,
            ticked=on,
            off=len(changes_of(found.lines)) - len(on),
            seen=ticks.seen(),
            would=seen,
            told=seen.booked + seen.moved + seen.dropped,
            changed=[changed_words(each, found.network) for each in seen.changed[:SHOWN]],
            more=max(0, len(seen.changed) - SHOWN),
            **kwargs,
        )

    def post(self, request: HttpRequest, **_: Any) -> HttpResponse:
        """Write it, if the ticks are those that were shown."""
        run, found = self.ready()
        ticks = Ticks(request.session, run)
        if request.POST.get("seen") != ticks.seen():
            page = self.get_context_data(look_again=True)
            return self.render_to_response(page, status=409)  # type: ignore[no-any-return]
        items = items_to_write(found.lines, without=ticks.off)
        land(run.pk, items=items, by=self.user, at=now())
        ticks.forget()
        messages.success(request, "The plan is in the record. What came of it stands below.")
        return redirect("run", run.pk)


class PutAside(Decides):
    """Accept nothing."""

    http_method_names = ("post",)

    def post(self, request: HttpRequest, **_: Any) -> HttpResponse:
        """Put the plan aside; it stays readable."""
        run, _found = self.ready()
        run_put_aside(run=run.pk)
        Ticks(request.session, run).forget()
        messages.success(request, "The plan is put aside. Nothing was booked.")
        return redirect("run", run.pk)


class Meanwhile(RunView):
    """What changed in the record since the plan was made: what accepting all would leave out."""

    template_name = "web/runs/meanwhile.html"
    fragment = "web/runs/meanwhile_body.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Compared with the record as it stands now."""
        run = self.run()
        found = self.review_of(run) if run.state == RunState.READY else None
        if found is None:
            raise not_ready(run)
        seen = look(found.network, found.plan)
        return super().get_context_data(
            run=run,
            would=seen,
            changed=[changed_words(each, found.network) for each in seen.changed[:SHOWN]],
            more=max(0, len(seen.changed) - SHOWN),
            **kwargs,
        )
