"""What a worker process knows of itself."""

from __future__ import annotations

import os
import socket
from threading import Event

ending = Event()
"""Set when this process was asked to end: its run is given back."""


def worker_name() -> str:
    """Machine and process, for whoever looks for a run's worker."""
    return f"{socket.gethostname()}:{os.getpid()}"
