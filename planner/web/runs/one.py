"""One run: how it goes while it plans, then what it would change."""

from __future__ import annotations

from collections import Counter
from typing import Any

from django.core.paginator import Paginator
from django.http import Http404
from django.utils import timezone

from planner.gateway.board.words import day_words
from planner.gateway.record import Changed
from planner.gateway.review.book import Review, review
from planner.gateway.review.changed import changed_words
from planner.gateway.review.figures import difference
from planner.gateway.review.lines import CHANGES, WORDS, Kind, Line
from planner.web.access import Page
from planner.web.runs.forms import LineFilters
from planner.web.runs.listing import RunLine
from planner.web.runs.tables import figure_rows
from planner.web.runs.ticks import Ticks
from planner.web.runs.words import stage_words
from sites.access import may, plan_runs_visible
from sites.errors import NotReady
from sites.models import OPEN_RUNS, PlanRun, RunState
from sites.selectors.runs import runs

PAGE = 50
BESIDE = 20
"""Earlier runs that can be put beside this one."""
LONG_WAIT = 30
"""Seconds without a worker after which the page says what may be wrong."""


class RunView(Page):
    """A page about one run in somebody's view."""

    rule = "runs.see"
    place = "requests"

    def run(self) -> PlanRun:
        """The run. Raises Http404 where it is not there or not in view: the same answer."""
        seen = plan_runs_visible(self.user)
        try:
            return runs().filter(pk__in=seen.values("pk")).get(pk=self.kwargs["number"])
        except PlanRun.DoesNotExist:
            raise Http404 from None

    def review_of(self, run: PlanRun) -> Review | None:
        """The best plan of a run that is over, laid out; None where it has none."""
        if run.state in OPEN_RUNS:
            return None
        try:
            return review(run)
        except NotReady:
            return None

    def filters(self, found: Review) -> LineFilters:
        """The filters of the URL."""
        network = found.network
        form = LineFilters(
            self.request.GET,
            sites=[(site.id, site.name) for site in network.sites],
            days=[
                (cell.day.isoformat(), day_words(0, cell.day))
                for row in found.loads[:1]
                for cell in row.cells
            ],
        )
        form.is_valid()
        return form


class RunPage(RunView):
    """What a new plan would do: progress, then changes, then a decision."""

    template_name = "web/runs/one.html"
    fragment = "web/runs/one_body.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Where it stands; with a plan, one page of its lines."""
        run = self.run()
        found = self.review_of(run)
        outcome = run.outcome or {}
        context = super().get_context_data(
            run=run,
            not_written=[
                changed_words(Changed(**each), found.network if found else None)
                for each in outcome.get("changed", ())
            ],
            line=RunLine(run),
            stage=stage_words(run.stage),
            open=run.state in OPEN_RUNS,
            waits_long=waits_long(run),
            may_end=run.state in OPEN_RUNS and may(self.user, "runs.start"),
            ready=run.state == RunState.READY,
            may_accept=run.state == RunState.READY and may(self.user, "runs.accept"),
            may_start=may(self.user, "runs.start"),
            **kwargs,
        )
        return context if found is None else {**context, **self.laid_out(run, found)}

    def laid_out(self, run: PlanRun, found: Review) -> dict[str, Any]:
        """The figures beside others, the loads, and the lines that the filters leave."""
        filters = self.filters(found)
        earlier = list(self.earlier(run))
        other, there = self.beside(filters, earlier)
        shown = [line for line in found.lines if filters.shows(line)]
        counts = Counter(line.kind for line in shown)
        kind = filters.kind_of(counts)
        page = Paginator([line for line in shown if line.kind == kind], PAGE).get_page(
            self.request.GET.get("page")
        )
        ticks = Ticks(self.request.session, run)
        return {
            "found": found,
            "filters": filters,
            "kinds": [(each, WORDS[each], counts[each], each == kind) for each in Kind],
            "kind": kind,
            "page": page,
            "lines": [tell(line, there, ticks) for line in page.object_list],
            "decided": kind in CHANGES,
            "promise": found.network.policy,
            "rows": figure_rows(found, other),
            "other": other,
            "difference": difference(found.told, there) if other and there is not None else None,
            "earlier": earlier,
            "loads": found.loads,
            "days": [cell.day for cell in found.loads[0].cells] if found.loads else [],
            "all_changes": sum(line.kind in CHANGES for line in found.lines),
            "ticked": len(ticks.on(found.lines)),
        }

    def earlier(self, run: PlanRun) -> Any:
        """Runs with a plan that began before this one."""
        seen = plan_runs_visible(self.user).filter(
            objective__isnull=False, created_at__lt=run.created_at, result__isnull=False
        )
        over = seen.exclude(state__in=OPEN_RUNS)
        return runs().filter(pk__in=over.values("pk")).order_by("-created_at", "-pk")[:BESIDE]

    def beside(
        self, filters: LineFilters, earlier: list[PlanRun]
    ) -> tuple[tuple[PlanRun, Review] | None, dict[str, Any] | None]:
        """The earlier run that is asked for, else the latest; None where there is none."""
        asked = filters.value("beside")
        chosen = next((each for each in earlier if each.pk == asked), None)
        chosen = chosen or (earlier[0] if earlier else None)
        found = self.review_of(chosen) if chosen else None
        if chosen is None or found is None:
            return None, None
        return (chosen, found), found.told


def waits_long(run: PlanRun) -> bool:
    """Whether a run waits so long that there may be no worker; by the machine's clock."""
    waits = (timezone.now() - run.created_at).total_seconds()
    return run.state == RunState.WAITING and waits > LONG_WAIT


def tell(line: Line, there: dict[str, Any] | None, ticks: Ticks) -> dict[str, Any]:
    """A line with its tick and where an earlier run had it."""
    return {
        "is": line,
        "on": line.request not in ticks.off,
        "there": there.get(line.request) if there is not None else None,
    }
