"""All runs in somebody's view."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Count

from planner.web.access import Page
from planner.web.runs.words import note_of, scope_words, sites_words, stage_words, thinks_for
from sites.access import may, plan_runs_visible
from sites.models import PlanRun, RunState
from sites.selectors.runs import runs

PAGE = 25


@dataclass(frozen=True, slots=True)
class RunLine:
    """A run with its words."""

    run: PlanRun

    @property
    def state(self) -> str:
        """Where it stands."""
        return RunState(self.run.state).label

    @property
    def note(self) -> str:
        """The note that goes with it."""
        return note_of(self.run.state)

    @property
    def stage(self) -> str:
        """What it does, while it plans."""
        return stage_words(self.run.stage) if self.run.state == RunState.PLANNING else ""

    @property
    def sites(self) -> str:
        """Which sites."""
        return sites_words([site.name for site in self.run.sites.all()])

    @property
    def scope(self) -> str:
        """Which requests."""
        return scope_words(self.run)

    @property
    def thinks(self) -> str:
        """How long it may think."""
        return thinks_for(self.run)

    @property
    def has_plan(self) -> bool:
        """Whether there are figures to show."""
        return self.run.objective is not None


class RunsPage(Page):
    """What was planned, what is being planned, and what waits for a decision."""

    rule = "runs.see"
    template_name = "web/runs/list.html"
    fragment = "web/runs/list_results.html"
    place = "requests"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """One page of runs and the counts by state: a fixed number of queries."""
        seen = plan_runs_visible(self.user)
        counts = dict(seen.order_by().values_list("state").annotate(n=Count("pk", distinct=True)))
        asked = self.request.GET.get("state", "")
        state = RunState(asked) if asked in RunState.values else None
        rows = runs().filter(pk__in=seen.values("pk"))
        rows = rows.filter(state=state) if state else rows
        page = Paginator(rows.order_by("-created_at", "-pk"), PAGE).get_page(
            self.request.GET.get("page")
        )
        return super().get_context_data(
            chips=[(each, counts.get(each, 0), each == state) for each in RunState],
            page=page,
            lines=[RunLine(run) for run in page.object_list],
            any_run=bool(counts),
            open=any(run.state in (RunState.WAITING, RunState.PLANNING) for run in page),
            may_start=may(self.user, "runs.start"),
            **kwargs,
        )
