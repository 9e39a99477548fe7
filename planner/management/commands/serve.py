"""``manage.py serve``: the pages, for real use."""

from __future__ import annotations

import ipaddress
import signal
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from waitress import serve

from planner.gateway.runs.beside import workers_beside
from planner.management.base import PlatenCommand
from planner.wsgi import application
from sites.checks import keys_are_set


class Command(PlatenCommand):
    """Serve the pages with Waitress, after everything they need has been found."""

    help = "Serves the pages; refuses where a key or the record is missing"

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Where to listen, and with how many threads."""
        parser.add_argument("--host", default="127.0.0.1", help="address (default 127.0.0.1)")
        parser.add_argument("--port", type=int, default=8000, help="port (default 8000)")
        parser.add_argument("--threads", type=int, default=8, help="requests at once (default 8)")
        parser.add_argument(
            "--no-work",
            action="store_true",
            help="start no worker beside the server: manage.py work runs elsewhere "
            "(the default where PLATEN_BROKER is set)",
        )

    def run(self, **options: Any) -> int:
        """Refuse with the remedy, or serve until Ctrl-C."""
        host, port, threads = options["host"], options["port"], options["threads"]
        refusals = [*missing_keys(), *beyond_this_machine(host), *record_is_off()]
        if refusals:
            for line in refusals:
                self.stderr.write(line)
            return 2
        self.say(f"Platen on http://{host}:{port}/, Ctrl-C ends it")
        if settings.HTTPS:
            self.say(
                f"it expects a proxy with TLS that comes from {settings.PROXY}; "
                "PLATEN_HTTPS=0 serves this machine alone, without one"
            )
        signal.signal(signal.SIGTERM, signal.default_int_handler)
        beside = 0 if options["no_work"] or settings.BROKER else 1
        how = {"host": host, "port": port, "threads": threads, **behind_proxy()}
        try:
            with workers_beside(beside):
                serve(application, ident="Platen", **how)
        except OSError as error:
            raise CommandError(
                f"{host}:{port} cannot be used ({error.strerror}): choose another --port",
                returncode=2,
            ) from error
        return 0


def behind_proxy() -> dict[str, Any]:
    """What the server takes from the proxy: who asked, and whether over TLS; else from nobody."""
    if not settings.HTTPS:
        return {}
    return {
        "trusted_proxy": settings.PROXY,
        "trusted_proxy_count": settings.PROXIES,
        "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
    }


def missing_keys() -> list[str]:
    """A line for every key that is not set, and one for debug mode."""
    lines = [f"{check.msg}: {check.hint}" for check in keys_are_set(databases=["default"])]
    if settings.DEBUG:
        lines.append("PLATEN_DEBUG is set: it shows the inside of errors to everybody; unset it")
    return lines


def beyond_this_machine(host: str) -> list[str]:
    """A line where sign-ins would cross a network in the clear, or a demo would leave this machine.

    ``PLATEN_HTTPS=0`` is for this machine alone; the demo's keys are known to everybody.
    """
    if host == "localhost" or is_loopback(host):
        return []
    if settings.DEMO:
        return [f"--host {host}: the demo's keys are known to everybody; serve it on 127.0.0.1"]
    if not settings.HTTPS:
        return [
            f"--host {host}: names and passwords would cross the network in the clear; put a proxy "
            "with TLS in front and take PLATEN_HTTPS=0 away, or serve on 127.0.0.1"
        ]
    return []


def is_loopback(host: str) -> bool:
    """Whether an address is this machine's own."""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def record_is_off() -> list[str]:
    """A line where the database cannot be reached or is not up to date."""
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError as error:
        return [f"the record cannot be reached ({error}): check DATABASE_URL and PLATEN_VAR"]
    return ["the record is missing or not up to date: run manage.py migrate"] if waiting else []
