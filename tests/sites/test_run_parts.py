"""Parts of a run: each has one worker, and none outlives the attempt that made it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from sites.errors import ChangedMeanwhile
from sites.models import PartState, RunPart
from sites.services.parts import (
    Region,
    part_claim,
    part_finish,
    part_progress,
    part_release,
    parts_make,
    parts_requeue_lapsed,
)
from sites.services.runs import Standing, run_cancel, run_claim, run_finish, run_requeue_lapsed
from tests.sites.build import World
from tests.sites.test_runs import KEPT, LEASE, MOST, OVER, claimed

REGIONS = [Region(b"small", 10, 1.0, None), Region(b"large", 90, 9.0, None)]
STANDING = Standing("improve", 2.0, 1.0, 1.0, 7)


def made(here: World, lease: timedelta = LEASE) -> int:
    """A run that somebody has, in two parts."""
    run, attempt = claimed(here, lease)
    parts_make(run=run, attempt=attempt, regions=REGIONS)
    return run


def took(run: int, lease: timedelta = LEASE) -> RunPart:
    """The next part."""
    part = part_claim(run=run, worker="w", lease=lease)
    assert part is not None
    return part


def test_parts_are_taken_the_largest_first_and_each_once(here: World) -> None:
    run = made(here)
    assert [bytes(took(run).network), bytes(took(run).network)] == [b"large", b"small"]
    assert part_claim(run=run, worker="w", lease=LEASE) is None


def test_a_part_that_lapsed_waits_again_and_its_worker_writes_no_more(here: World) -> None:
    run = made(here)
    first = took(run, OVER)
    assert parts_requeue_lapsed(run=run) == 1
    second = took(run)
    assert (second.pk, second.attempt) == (first.pk, 2)
    part, lost = first.pk, first.attempt
    for write in (
        lambda: part_progress(part=part, attempt=lost, lease=LEASE, standing=STANDING),
        lambda: part_finish(part=part, attempt=lost, plan=b"late", standing=STANDING),
        lambda: part_release(part=part, attempt=lost),
    ):
        with pytest.raises(ChangedMeanwhile):
            write()
    part_finish(part=part, attempt=2, plan=b"plan", standing=STANDING)
    row = RunPart.objects.get(pk=part)
    assert (row.state, bytes(row.plan or b""), row.booked) == (PartState.DONE, b"plan", 7)


def test_parts_of_a_run_that_somebody_else_has_are_of_no_use(here: World) -> None:
    run = made(here, OVER)
    part = took(run)
    run_requeue_lapsed(most=MOST)
    second = run_claim(run=run, worker="two", lease=LEASE)
    with pytest.raises(ChangedMeanwhile):
        part_finish(part=part.pk, attempt=part.attempt, plan=b"late", standing=STANDING)
    assert part_claim(run=run, worker="w", lease=LEASE) is None
    with pytest.raises(ChangedMeanwhile):
        parts_make(run=run, attempt=1, regions=REGIONS)
    assert second == 2
    parts_make(run=run, attempt=second, regions=REGIONS[:1])
    assert RunPart.objects.get().run_attempt == 2


def test_a_part_hears_that_its_run_is_cancelled(here: World) -> None:
    run = made(here)
    part = took(run)
    told = {"part": part.pk, "attempt": part.attempt, "lease": LEASE, "standing": STANDING}
    assert not part_progress(**told)  # type: ignore[arg-type]
    run_cancel(run=run)
    assert part_progress(**told)  # type: ignore[arg-type]


def test_a_part_that_is_given_back_waits(here: World) -> None:
    run = made(here)
    part = took(run)
    part_release(part=part.pk, attempt=part.attempt)
    assert took(run).pk == part.pk


def test_parts_go_when_the_run_ends(here: World) -> None:
    run = made(here)
    run_finish(run=run, attempt=1, kept=KEPT)
    assert not RunPart.objects.exists()
