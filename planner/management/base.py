"""What every command shares: what is refused becomes lines on stderr and an exit code."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand

from planner.engine.errors import FileRefused, PlatenError
from sites.errors import RecordError


class PlatenCommand(BaseCommand):
    """A thin command: parse, call the gateway or the engine, print.

    Subclasses write `run`, which returns the exit code. An engine error is printed fault by fault
    on stderr and ends with the error's own exit code; what the record refuses ends as a file does
    that is refused.
    """

    requires_system_checks: list[str] = []  # noqa: RUF012 - Django's own declaration

    def handle(self, *args: Any, **options: Any) -> None:
        """Run the command and end with its exit code."""
        try:
            status = self.run(**options)
        except PlatenError as error:
            for fault in error.faults:
                self.stderr.write(str(fault))
            status = error.exit_code
        except RecordError as error:
            self.stderr.write(str(error))
            status = FileRefused.exit_code
        if status:
            sys.exit(status)

    def say(self, line: str) -> None:
        """One line of news on stderr, beside the result, in plain type."""
        self.stderr.write(line, style_func=str)

    def run(self, **options: Any) -> int:
        """Do the work; the exit code is returned."""
        raise NotImplementedError
