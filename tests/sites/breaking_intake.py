"""How the constraints of lists of candidates, external references and holds are broken."""

from __future__ import annotations

from datetime import timedelta

from sites.intake.files import read_table
from sites.models import ExternalReference, Hold, Intake, IntakeBlock, IntakeFinding, Request
from sites.services.holds import requests_hold
from sites.services.intakes import intake_choose, intake_give, intake_read
from tests.sites.breaking import Break, changed, doubled
from tests.sites.build import NOW, World

OF_INTAKE: dict[str, Break] = {
    "intake_step_known": changed(Intake, step="lost"),
    "intake_counts_fit": changed(Intake, checked=99),
    "intake_ends_at_its_end": changed(Intake, ended_at=NOW),
    "intake_block_once": doubled(IntakeBlock),
    "intake_finding_kind_known": changed(IntakeFinding, kind="odd"),
    "external_reference_once_a_programme": lambda here: ExternalReference.objects.create(
        programme=here.programme, text="X-1", request=here.request("another")
    ),
    "external_reference_says_something": changed(ExternalReference, text=""),
    "hold_one_not_released": doubled(Hold),
    "hold_says_why": changed(Hold, why=""),
    "hold_ends_after_it_starts": changed(Hold, released_at=NOW - timedelta(days=1)),
}


def listed(here: World) -> None:
    """A row of each of these models."""
    table = read_table(b"reference\n" + b"x" * 65)
    one = intake_give(table=table, file_name="list.csv", by=here.desk, at=NOW)
    intake_choose(intake=one, mapping=["reference"], programme=here.programme)
    intake_read(intake=one)
    waiting = here.request("waiting")
    requests_hold(requests=[waiting], why="away", by=here.desk, at=NOW)
    request = Request.objects.get(reference="waiting")
    ExternalReference.objects.create(programme=here.programme, text="X-1", request=request)
