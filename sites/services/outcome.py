"""What became of many: what was done, and what was skipped and why."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from sites.models import Request
from sites.selectors.chosen import Verdict
from sites.selectors.parts import parts

CHANGED = "was changed by somebody else meanwhile"


@dataclass(slots=True)
class Outcome:
    """Requests that were changed, and those that were not with the reason of each."""

    done: list[Request] = field(default_factory=list)
    skipped: list[tuple[Request, str]] = field(default_factory=list)

    def skip(self, request: Request, why: str) -> None:
        """Leave a request as it is."""
        self.skipped.append((request, why))


def locked(requests: Iterable[Request]) -> list[Request]:
    """The requests, locked until the end of the transaction, in one order against deadlocks.

    Whoever books one of them waits, or is seen. SQLite has one line for all that write.
    """
    rows = list(requests)
    for part in parts(sorted(row.pk for row in rows)):
        list(Request.objects.select_for_update().filter(pk__in=part).order_by("pk").values("pk"))
    return rows


def sorted_out(
    rows: Iterable[Request], verdicts: Mapping[int, Verdict], seen: Mapping[int, str] | None
) -> Outcome:
    """Which can be done, and the reason of each that cannot or is not what somebody saw."""
    outcome = Outcome()
    for row in rows:
        verdict = verdicts[row.pk]
        if seen is not None and seen.get(row.pk) != verdict.seen:
            outcome.skip(row, f"{CHANGED}: it {verdict.why}" if verdict.why else CHANGED)
        elif verdict.why:
            outcome.skip(row, verdict.why)
        else:
            outcome.done.append(row)
    return outcome
