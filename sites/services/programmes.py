"""A programme's parameters change on a day; requests received before keep theirs."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.forms.models import model_to_dict

from sites.errors import BadValue
from sites.models import Algorithm, Programme, ProgrammeVersion, Threshold
from sites.models.codes import ImpressionType
from sites.selectors.terms import terms_on
from sites.services.write import written

# Thumb, index, middle, ring, little; alike on both hands.
NFIQ2_SCORES = {
    ImpressionType.LIVE_PLAIN: (30, 30, 20, 10, 10),
    ImpressionType.LIVE_ROLLED: (20, 15, 15, 10, 5),
}


@written
def programme_change(*, programme: Programme, starts_on: date, **changes: Any) -> ProgrammeVersion:
    """Add a version from a day on: the one in force then, with these changes."""
    if programme.versions.filter(starts_on=starts_on).exists():
        raise BadValue(f"{programme.code} on {starts_on}", "has a version", "choose another day")
    before = terms_on(programme=programme, day=starts_on)
    values = model_to_dict(before, exclude=["id", "programme", "starts_on"])
    unknown = sorted(set(changes) - set(values))
    if unknown:
        raise BadValue(", ".join(unknown), "is no parameter", f"use one of {', '.join(values)}")
    version = ProgrammeVersion.objects.create(
        programme=programme, starts_on=starts_on, **{**values, **changes}
    )
    for row in before.thresholds.all():
        row.pk, row.terms = None, version
        row.save(force_insert=True)
    return version


@written
def thresholds_set(*, terms: ProgrammeVersion, algorithm_version: str = "") -> int:
    """Give terms the NFIQ 2 thresholds of BSI TR-03121-3, tables 4.7 to 4.9, as a beginning.

    The programme's own policy comes first. Thresholds of the algorithm that were there are
    replaced; returns how many there are now.
    """
    terms.thresholds.filter(algorithm=Algorithm.NFIQ2).delete()
    made = Threshold.objects.bulk_create(
        Threshold(
            terms=terms,
            algorithm=Algorithm.NFIQ2,
            algorithm_version=algorithm_version,
            position=position,
            impression=impression,
            score=score,
        )
        for impression, scores in NFIQ2_SCORES.items()
        for hand in (0, 5)
        for position, score in enumerate(scores, hand + 1)
    )
    return len(made)
