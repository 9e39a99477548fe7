"""Thresholds of a programme, and what falls short of them."""

from __future__ import annotations

from datetime import date

import pytest

from sites.errors import DoesNotFit, StepRefused
from sites.models import (
    Algorithm,
    Certification,
    Feature,
    OverrideKind,
    ProgrammeVersion,
    Scanner,
    SessionEnd,
    Subject,
)
from sites.models.codes import FingerPosition, ImpressionType
from sites.selectors.quality import short_captures
from sites.services.programmes import programme_change, thresholds_set
from sites.services.sessions import (
    attempt_record,
    override_record,
    session_end,
    session_identity_check,
)
from tests.sites.build import DAY, World

pytestmark = pytest.mark.django_db

# BSI TR-03121-3, tables 4.7 to 4.9, NFIQ 2: from notes taken of them, the tables not seen again.
PLAIN = {"thumb": 30, "index": 30, "middle": 20, "ring": 10, "little": 10}
ROLLED = {"thumb": 20, "index": 15, "middle": 15, "ring": 10, "little": 5}


def test_the_thresholds_to_begin_with_are_the_guidelines(here: World) -> None:
    terms = ProgrammeVersion.objects.get()
    assert thresholds_set(terms=terms) == 20
    for impression, table in ((0, PLAIN), (1, ROLLED)):
        rows = terms.thresholds.filter(impression=impression, algorithm="nfiq2")
        found = {row.get_position_display().split()[-1]: row.score for row in rows}
        assert found == table
        assert rows.count() == 10


def test_a_change_of_the_programme_takes_its_thresholds_along(here: World) -> None:
    thresholds_set(terms=ProgrammeVersion.objects.get())
    later = programme_change(programme=here.programme, starts_on=date(2026, 4, 1), due_days=9)
    assert later.thresholds.count() == 20


@pytest.mark.parametrize(
    ("score", "short"), [(14, True), (15, False), (100, False), (254, True), (255, True)]
)
def test_a_short_capture_needs_an_override(here: World, score: int, *, short: bool) -> None:
    thresholds_set(terms=ProgrammeVersion.objects.get())
    session = here.session(here.request("r-1"))
    session_identity_check(session=session, by=here.taker)
    made = attempt_record(
        session=session,
        position=FingerPosition.LEFT_INDEX,
        impression=ImpressionType.LIVE_ROLLED,
        kept=True,
        algorithm=Algorithm.NFIQ2,
        algorithm_version="2.3",
        score=score,
    )
    assert (short_captures(session=session) == [made]) is short
    if not short:
        session_end(session=session, how=SessionEnd.COMPLETE, by=here.taker)
        return
    with pytest.raises(StepRefused, match="Left index: stayed short with NFIQ 2"):
        session_end(session=session, how=SessionEnd.COMPLETE, by=here.taker)
    override_record(
        session=session,
        position=FingerPosition.LEFT_INDEX,
        kind=OverrideKind.QUALITY,
        reason="worn ridges",
        by=here.taker,
        second=here.desk,
    )
    session_end(session=session, how=SessionEnd.OVERRIDE, by=here.taker)


def test_the_two_algorithms_run_in_opposite_directions_and_are_not_mixed(here: World) -> None:
    terms = ProgrammeVersion.objects.get()
    where = {"position": 2, "impression": 1}
    terms.thresholds.create(algorithm="nfiq1", score=3, **where)
    session = here.session(here.request("r-1"))
    made = session.attempts.create(
        number=1, kept=True, algorithm="nfiq1", algorithm_version="1", score=4, **where
    )
    assert short_captures(session=session) == [made]
    session.attempts.update(score=3)
    assert short_captures(session=session) == []
    session.attempts.update(algorithm="nfiq2", score=4)
    assert short_captures(session=session) == []


def test_an_expired_certificate_and_a_scanner_for_flats_do_not_fit(here: World) -> None:
    row = Certification.objects.create(
        technician=here.technicians[0], kind="k", starts_on=date(2025, 3, 2), expires_on=DAY
    )
    request = here.request("r-1")
    with pytest.raises(DoesNotFit, match="no certificate valid"):
        here.book(request)
    row.expires_on = date(2026, 3, 3)
    row.save()
    Scanner.objects.update(takes_rolled=False)
    with pytest.raises(DoesNotFit, match="flats only"):
        here.book(request)
    here.profile.captures.update(kind="plain")
    here.book(request)


def test_an_access_need_asks_for_an_accessible_station(here: World) -> None:
    subject = Subject.objects.create(reference="s-a", needs_access=True)
    request = here.request("r-1", subject=subject)
    with pytest.raises(DoesNotFit, match="lacks accessible"):
        here.book(request)
    here.stations[0].features.add(Feature.objects.get(code="accessible"))
    here.book(request)
