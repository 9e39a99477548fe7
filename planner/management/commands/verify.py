"""``manage.py verify``: whether a plan keeps every rule."""

from __future__ import annotations

import argparse
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.engine.verify import Breach, verify
from planner.gateway.files import read_network, read_plan
from planner.management.base import PlatenCommand

if TYPE_CHECKING:
    from collections.abc import Sequence

DRAWS = 10_000
SEED = 1


class Command(PlatenCommand):
    """Print every broken rule, by number, with the things that break it."""

    help = "Does a plan keep all ten rules? Ends with 1 where it does not."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        """The two files, and how closely the promises are checked."""
        parser.add_argument("network", type=Path, metavar="NETWORK", help="a network file")
        parser.add_argument("plan", type=Path, metavar="PLAN", help="a plan made for it")
        parser.add_argument(
            "--draws",
            type=_draws,
            default=DRAWS,
            metavar="N",
            help=f"drawn runs for the promises of rule 9, at least 1 ({DRAWS})",
        )

    def run(self, **options: Any) -> int:
        """Read, judge, print."""
        network = read_network(options["network"])
        plan = read_plan(options["plan"], network)
        draws: int = options["draws"]
        breaches = verify(network, plan, draws=draws, seed=SEED)
        for breach in breaches:
            self.stdout.write(str(breach))
        if breaches:
            self.stdout.write(_count(breaches))
            return 1
        self.stdout.write(
            f"The plan keeps all ten rules: {len(plan.bookings)} bookings, {len(plan.care)} care, "
            f"{len(plan.breaks)} breaks and {len(plan.unbooked)} unbooked requests checked, "
            f"the promises by {draws} drawn runs."
        )
        return 0


def _count(breaches: Sequence[Breach]) -> str:
    rules = Counter(breach.rule for breach in breaches)
    each = ", ".join(f"{count} of rule {rule}" for rule, count in sorted(rules.items()))
    return f"The plan breaks {len(rules)} of the ten rules, {len(breaches)} breaches: {each}."


def _draws(text: str) -> int:
    try:
        draws = int(text)
    except ValueError:
        draws = 0
    if draws < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number of at least 1")
    return draws
