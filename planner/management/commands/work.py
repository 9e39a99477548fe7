"""``manage.py work``: plans what is asked for, in the background."""

from __future__ import annotations

import os
import signal
from argparse import SUPPRESS, ArgumentParser
from threading import Event
from typing import Any

from planner.gateway.runs.beside import Workers
from planner.gateway.runs.loop import take_tasks
from planner.management.base import PlatenCommand
from planner.management.commands.plan import whole
from planner.management.commands.serve import missing_keys, record_is_off


class Command(PlatenCommand):
    """Exit 0 once told to end, 2 where a key or the record is missing."""

    help = (
        "Plans runs in the background until Ctrl-C, and takes runs back from workers that are "
        "gone. Any number of these may run, on any number of machines."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """How many."""
        parser.add_argument(
            "--workers", metavar="N", type=whole, default=1, help="runs at once (default 1)"
        )
        parser.add_argument("--one", action="store_true", help=SUPPRESS)

    def run(self, **options: Any) -> int:
        """Work in this process, or look after those that do."""
        if options["one"]:
            take_tasks(parent=os.getppid())
            return 0
        refusals = [*missing_keys(), *record_is_off()]
        if refusals:
            for line in refusals:
                self.stderr.write(line)
            return 2
        done = Event()
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, lambda *_: done.set())
        self.say(f"{options['workers']} at work, Ctrl-C ends it")
        Workers(options["workers"]).watch(done)
        return 0
