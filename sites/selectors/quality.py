"""Which captures of a session stayed short of the programme's thresholds."""

from __future__ import annotations

from sites.models import Algorithm, Attempt, Session, Threshold

NOT_COMPUTED = 254  # NFIQ 2: 254 not attempted (recalled), 255 could not be computed
Key = tuple[str, int, int]


def short_captures(*, session: Session) -> list[Attempt]:
    """Kept attempts whose score is worse than the threshold for its algorithm, in order.

    A score that could not be computed is short. A capture without a threshold or a score is not
    judged.
    """
    terms = session.appointment.request.terms
    limits: dict[Key, list[Threshold]] = {}
    for row in terms.thresholds.all():
        limits.setdefault((row.algorithm, row.position, row.impression), []).append(row)
    return [
        attempt
        for attempt in session.attempts.filter(kept=True, score__isnull=False)
        for limit in limits.get((attempt.algorithm, attempt.position, attempt.impression), [])
        if limit.algorithm_version in ("", attempt.algorithm_version)
        and worse(attempt.algorithm, attempt.score or 0, limit.score)
    ]


def worse(algorithm: str, score: int, limit: int) -> bool:
    """NFIQ 1 runs from 1 (best) to 5, NFIQ 2 from 0 to 100 (best)."""
    if algorithm == Algorithm.NFIQ1:
        return score > limit
    return score < limit or score >= NOT_COMPUTED
