"""The record's codes against the standards that they come from."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, transaction

from sites.errors import StepRefused
from sites.models import Attempt, MissingFinger, ProgrammeVersion
from sites.models.codes import (
    Algorithm,
    Cause,
    FingerPosition,
    ImpressionType,
    MissingCode,
)
from sites.services.sessions import attempt_record
from tests.sites.build import DAY, World, world

pytestmark = pytest.mark.django_db

# ANSI/NIST-ITL 1-2011, friction ridge position codes of fingers; recalled, not seen.
POSITIONS = {
    0: "unknown",
    1: "right thumb",
    2: "right index",
    3: "right middle",
    4: "right ring",
    5: "right little",
    6: "left thumb",
    7: "left index",
    8: "left middle",
    9: "left ring",
    10: "left little",
    11: "plain right thumb",
    12: "plain left thumb",
    13: "plain right four fingers",
    14: "plain left four fingers",
    15: "plain both thumbs",
    16: "right extra digit",
    17: "left extra digit",
}
# ANSI/NIST-ITL and ISO/IEC 19794-4, impression types; recalled, not seen.
IMPRESSIONS = {
    0: "live-scan plain",
    1: "live-scan rolled",
    2: "non-live-scan plain",
    3: "non-live-scan rolled",
}
# ANSI/NIST-ITL field 14.018; recalled, not seen.
MISSING = {"XX": "amputated", "UP": "unable to print"}


@pytest.fixture
def here() -> World:
    """The small world of the record's tests."""
    return world()


def test_finger_positions_are_the_standards() -> None:
    assert {code.value: code.label.lower() for code in FingerPosition} == POSITIONS


def test_impression_types_are_the_standards() -> None:
    assert {code.value: code.label.lower() for code in ImpressionType} == IMPRESSIONS


def test_missing_finger_codes_are_the_standards() -> None:
    assert {code.value: code.label.lower() for code in MissingCode} == MISSING


def attempt(here: World, name: str, **values: object) -> Attempt:
    """An attempt of a session of its own, not written yet."""
    fields = {"position": 2, "impression": 1, "number": 1, **values}
    return Attempt(session=here.session(here.request(name)), **fields)


# NFIQ 1 runs 1 … 5 (NIST); NFIQ 2 runs 0 … 100, 255 = could not be computed (NIST NFIQ 2,
# ISO/IEC 29794-4), 254 = not attempted (recalled).
GOOD = [
    *(("nfiq1", n) for n in (1, 2, 3, 4, 5)),
    *(("nfiq2", n) for n in (0, 1, 99, 100, 254, 255)),
]
BAD = [("nfiq1", 0), ("nfiq1", 6), ("nfiq1", 255), ("nfiq2", 101), ("nfiq2", 253), ("", 3)]


def test_scores_lie_in_the_range_of_their_algorithm(here: World) -> None:
    one = attempt(here, "r-1")
    for number, (algorithm, score) in enumerate(GOOD, 1):
        Attempt.objects.create(
            session=one.session,
            position=2,
            impression=1,
            number=number,
            algorithm=algorithm,
            algorithm_version="1",
            score=score,
        )
    for algorithm, score in BAD:
        with pytest.raises(IntegrityError, match="score"), transaction.atomic():
            Attempt.objects.create(
                session=one.session,
                position=3,
                impression=1,
                number=1,
                algorithm=algorithm,
                algorithm_version="1",
                score=score,
            )


def test_a_score_without_its_version_is_refused(here: World) -> None:
    one = attempt(here, "r-1", algorithm=Algorithm.NFIQ2, score=40)
    with pytest.raises(IntegrityError, match="score"), transaction.atomic():
        one.save()


@pytest.mark.parametrize(("field", "value"), [("position", 18), ("impression", 4)])
def test_a_code_that_the_standard_has_not_is_refused(here: World, field: str, value: int) -> None:
    one = attempt(here, "r-1", **{field: value})
    with pytest.raises(IntegrityError, match="known"), transaction.atomic():
        one.save()


def test_only_single_fingers_are_missing_and_only_up_is_reviewed(here: World) -> None:
    session = here.session(here.request("r-1"))
    MissingFinger.objects.create(session=session, position=4, code="XX")
    MissingFinger.objects.create(session=session, position=5, code="UP", review_on=DAY)
    for position, code, review in (
        (13, "XX", None),
        (1, "XX", DAY),
        (2, "UP", None),
        (3, "ZZ", None),
    ):
        with pytest.raises(IntegrityError, match="missing"), transaction.atomic():
            MissingFinger.objects.create(
                session=session, position=position, code=code, review_on=review
            )


def test_at_most_three_attempts_unless_the_programme_says_otherwise(here: World) -> None:
    """BSI TR-03121-3: at most 3 attempts per capture, then the best one is proposed."""
    assert ProgrammeVersion._meta.get_field("attempts_per_capture").default == 3
    session = here.session(here.request("r-1"))
    what = {"session": session, "position": FingerPosition.RIGHT_INDEX}
    for number in (1, 2, 3):
        made = attempt_record(
            **what, impression=ImpressionType.LIVE_ROLLED, cause=Cause.DRY, kept=number == 2
        )
        assert made.number == number
    with pytest.raises(StepRefused, match="more than the 3"):
        attempt_record(**what, impression=ImpressionType.LIVE_ROLLED)
    kept = session.attempts.filter(kept=True).values_list("number", flat=True)
    assert list(kept) == [2]
