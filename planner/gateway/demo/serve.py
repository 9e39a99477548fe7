"""Handing over to ``manage.py serve``, with the clock of the pages held at the demo's today."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import date, datetime
from pathlib import Path

from django.conf import settings
from django.core.management import get_commands

from planner.gateway.demo.past import MORNING


def can_serve() -> bool:
    """Whether there is a server to start."""
    return "serve" in get_commands()


def moment(today: date) -> datetime:
    """What the pages take for the present: the morning of the demo's today."""
    return datetime.combine(today, MORNING)


def serve(today: date) -> int:
    """Serve until Ctrl-C, in a process of its own: the same as a person would start by hand."""
    held = {"PLATEN_DEMO": "1", "PLATEN_NOW": moment(today).isoformat()}
    try:
        return subprocess.run(  # noqa: S603 - this program, no words from outside
            [sys.executable, str(Path(settings.BASE_DIR) / "manage.py"), "serve"],
            env={**os.environ, **held},
            check=False,
        ).returncode
    except KeyboardInterrupt:
        return 0
