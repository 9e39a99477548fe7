"""``manage.py plan NETWORK --out PLAN``: book a network's requests and write the plan."""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import Any

from django.core.management.base import CommandParser

from planner.engine.booking import Interrupted, Options, plan
from planner.engine.booking.regions import plan_regions
from planner.engine.codec import encode_plan
from planner.gateway.export import refuse_unwritable
from planner.gateway.files import read_network, write_whole
from planner.gateway.progress import ConsoleWatch, interruptible
from planner.gateway.ready import make_ready
from planner.gateway.summary import bound_lines, summary_lines
from planner.management.base import PlatenCommand

INTERRUPTED = 130
LARGEST_SEED = 2**31 - 1


class Command(PlatenCommand):
    """Exit 0 with a plan, 2 for a refused file, 3 for an impossible network, 130 stopped early."""

    help = (
        "Book a network's requests and write the plan. Ctrl-C ends early with the best checked "
        "plan so far; a second Ctrl-C ends at once."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """The network, the plan and the budget."""
        parser.add_argument("network", metavar="NETWORK", type=Path, help="the network file")
        parser.add_argument(
            "--out", metavar="PLAN", type=Path, required=True, help="the plan file to write"
        )
        budget = parser.add_mutually_exclusive_group()
        budget.add_argument("--seconds", metavar="S", type=seconds, help="wall time to spend")
        budget.add_argument(
            "--effort",
            metavar="N",
            type=whole,
            help="a budget that is the same on every machine: same file, seed, effort and one "
            "worker give the same plan",
        )
        parser.add_argument("--seed", metavar="N", type=seed, default=0, help="of all draws (0)")
        parser.add_argument("--workers", metavar="N", type=whole, default=1, help="processes (1)")
        parser.add_argument(
            "--regions",
            action="store_true",
            help="plan sites that share no request and no technician apart, on as many processes "
            "as there are workers, and join the plans; a network that hangs together stays whole",
        )
        parser.add_argument(
            "--quiet", action="store_true", help="no progress and no summary, only faults"
        )

        parser.add_argument(
            "--bound",
            choices=["plain", "capacity", "strong"],
            default="capacity",
            help="what the summary tells of the bound beside the gap: no more, the gap as capacity "
            "(the default), or a stronger bound too, of plans that keep their promises; each takes "
            "longer, minutes on the largest networks",
        )

    def run(self, **options: Any) -> int:
        """Read, plan, write, tell."""
        out: Path = options["out"]
        wanted = Options(
            seconds=options["seconds"],
            effort=options["effort"],
            seed=options["seed"],
            workers=options["workers"],
        )
        watch = ConsoleWatch(None if options["quiet"] else self.say)
        with interruptible(watch):
            network = read_network(options["network"])
            refuse_unwritable(out, options["network"])
            try:
                make_ready(watch, ignore if options["quiet"] else self.say)
                made = (plan_regions if options["regions"] else plan)(network, wanted, watch)
            except Interrupted:
                self.say(f"stopped before there was a plan; {out} was not written")
                return INTERRUPTED
            write_whole(out, encode_plan(made, network))
            told = not options["quiet"]
            asked = told and options["bound"] != "plain" and not watch.stopped()
            strong = options["bound"] == "strong"
            many = wanted.workers
            bounds = bound_lines(network, made, strong=strong, threads=many) if asked else []
        if watch.stopped():
            self.say(f"stopped early; the best checked plan so far is in {out}")
        if told:
            lines = [*summary_lines(network, made, bounds), f"plan        {out}"]
            self.stdout.write("\n".join(lines))
        return 0


def ignore(line: str) -> None:
    """Say nothing."""


def seconds(text: str) -> float:
    """A finite number of seconds above 0."""
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and value > 0):
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of seconds above 0")
    return value


def whole(text: str) -> int:
    """A whole number of at least 1."""
    return _between(text, 1, LARGEST_SEED)


def seed(text: str) -> int:
    """A whole number from 0 to `LARGEST_SEED`, the largest that the solver takes."""
    return _between(text, 0, LARGEST_SEED)


def _between(text: str, low: int, high: int) -> int:
    known = text.isascii() and text.isdigit() and len(text) <= len(str(high))
    value = int(text) if known else low - 1
    if not low <= value <= high:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from {low} to {high}")
    return value
