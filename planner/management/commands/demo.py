"""``manage.py demo``: plan the demo network, lay it out, make the demo's record, and serve it."""

from __future__ import annotations

import os
from argparse import ArgumentTypeError
from dataclasses import replace
from datetime import date
from pathlib import Path
from time import perf_counter
from typing import Any

from django.conf import settings
from django.core.management.base import CommandParser

from planner.engine.booking import Interrupted, Options, plan
from planner.engine.codec import encode_plan
from planner.engine.errors import Fault, PlanUnsound
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.verify import verify
from planner.gateway.board import make_folder, write_board
from planner.gateway.board.likely import likely_ends
from planner.gateway.demo.ahead import ahead_lines, plan_ahead
from planner.gateway.demo.build import SEED as RECORD_SEED
from planner.gateway.demo.build import build, built_lines, login_lines
from planner.gateway.demo.serve import can_serve, serve
from planner.gateway.demo.story import TODAY
from planner.gateway.export import appointments_csv, refuse_unwritable
from planner.gateway.files import read_network, write_whole
from planner.gateway.progress import ConsoleWatch, interruptible
from planner.gateway.ready import make_ready
from planner.gateway.summary import bound_lines, summary_lines
from planner.management.base import PlatenCommand
from planner.management.commands.plan import INTERRUPTED, seconds, whole

SECONDS = 40.0
"""Planning time that leaves half of a minute for reading, checking and writing."""

RECORD_SHARE = 0.5
"""Of the planning time, for the record's weeks on top."""

DRAWS = 2000
SEED = 20_000
"""Drawn runs of the check, from another seed than the planner's."""


class Command(PlatenCommand):
    """Exit 0 with the demo laid out, 130 where it was stopped before there was a plan."""

    help = (
        "Plan the demo network, check the plan, print what it did, and write it as JSON, as a "
        "table of appointments and as a day board of pages that open without a server. Then make "
        "the demo's record anew, nine invented months of it, plan its next three weeks, print a "
        "login for each role, and serve it where there is a server."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Where to, for how long, and whether to serve afterwards."""
        parser.add_argument(
            "--no-serve",
            action="store_true",
            help="end when the record is made and planned, without starting a server",
        )
        parser.add_argument(
            "--today",
            metavar="DATE",
            type=day,
            default=TODAY,
            help=f"the record's today ({TODAY}: the same demo every time)",
        )
        parser.add_argument("--out", metavar="DIR", type=Path, help="folder to write (out/demo)")
        parser.add_argument(
            "--seconds", metavar="S", type=seconds, default=SECONDS, help=f"to plan ({SECONDS:g})"
        )
        parser.add_argument(
            "--workers", metavar="N", type=whole, help="processes (the cores, at most 2)"
        )

    def run(self, **options: Any) -> int:
        """Plan, check, tell, write."""
        begun = perf_counter()
        root = Path(settings.BASE_DIR)
        folder: Path = options["out"] or root / "out" / "demo"
        make_folder(folder)
        refuse_unwritable(folder / "plan.json")
        network = read_network(root / "fixtures" / "demo-network.json")
        self.stdout.write(
            f"The demo network: {len(network.sites)} sites, {len(network.stations)} stations, "
            f"{len(network.technicians)} technicians, {network.days} days, "
            f"{len(network.requests):,} requests."
        )
        wanted = Options(
            seconds=options["seconds"], workers=options["workers"] or min(2, os.cpu_count() or 1)
        )
        watch = ConsoleWatch(self.say)
        with interruptible(watch):
            try:
                make_ready(watch, self.say)
                made = plan(network, wanted, watch)
            except Interrupted:
                self.say("stopped before there was a plan; nothing was written")
                return INTERRUPTED
        self.say("checking the plan")
        check(network, made)
        bounds = []
        if not watch.stopped():
            bounds = bound_lines(network, made, strong=True, threads=wanted.workers)
        told = ["", *summary_lines(network, made, bounds), "checked     no rule broken"]
        self.stdout.write("\n".join(told))
        written = self.lay_out(network, made, folder)
        self.stdout.write(f"all         {perf_counter() - begun:.1f} s\n\n{written}\n")
        return self.record(options["today"], wanted, serves=not options["no_serve"])

    def record(self, today: date, wanted: Options, *, serves: bool) -> int:
        """Make the record, plan its next weeks, and serve it if asked to and able to."""
        self.say("making the record")
        built = build(today, RECORD_SEED)
        self.stdout.write("\n".join(built_lines(built)))
        watch = ConsoleWatch(self.say)
        with interruptible(watch):
            try:
                ahead = plan_ahead(
                    today,
                    replace(wanted, seconds=RECORD_SHARE * (wanted.seconds or SECONDS)),
                    watch,
                )
            except Interrupted:
                self.say("stopped before there was a plan; the record is there, its weeks are not")
                return INTERRUPTED
        self.stdout.write("\n".join([*ahead_lines(ahead), "", *login_lines(built.password)]))
        self.stdout.flush()
        return serve(today) if serves and can_serve() else 0

    def lay_out(self, network: Network, made: Plan, folder: Path) -> str:
        """Write everything and say where it is."""
        write_whole(folder / "plan.json", encode_plan(made, network))
        write_whole(folder / "appointments.csv", appointments_csv(network, made))
        index = write_board(network, made, likely_ends(network, made), folder)
        return "\n".join(
            [
                f"plan          {folder / 'plan.json'}",
                f"appointments  {folder / 'appointments.csv'}",
                f"day board     {index}   (open it in a browser; no server is needed)",
            ]
        )


def day(text: str) -> date:
    """A date of the command line."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f"{text!r} is no date: write it as {TODAY}") from None


def check(network: Network, made: Plan) -> None:
    """Raise PlanUnsound with every broken rule."""
    broken = verify(network, made, draws=DRAWS, seed=SEED, care_may_be_unplaced=False)
    if broken:
        raise PlanUnsound(
            [Fault("plan", str(item), "report this with the network file") for item in broken]
        )
