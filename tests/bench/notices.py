"""``python -m tests.bench.notices [REQUESTS]``: the sender, and the pages of notices and returns.

Runs on the database of ``DATABASE_URL``, in one of its own that it drops again: a third of the
requests is booked with a notice each, a ninth sent on. Messages are kept in memory, so that the
figure is what the record costs, not what a mail server does.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from functools import partial
from importlib import import_module

import django
from django.apps import apps
from django.conf import settings
from django.test import Client
from django.test.utils import CaptureQueriesContext

from tests.bench.record import scratch
from tests.bench.standing import SENT, TODAY, fill

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
MESSAGES = 500
PAGES = ("/notices/", "/notices/?state=all", "/returned/")


@contextmanager
def timed(what: str) -> Iterator[Callable[[str], None]]:
    """Print how long it took, with what is said in between."""
    said: list[str] = []
    began = time.perf_counter()
    yield said.append
    print(f"{what}: {time.perf_counter() - began:.3f} s {' '.join(said)}", flush=True)


def notices() -> int:
    """A notice for each appointment: the first ones waiting, the others told."""
    model = partial(apps.get_model, "record")
    rows = list(model("Appointment").objects.order_by("-pk").values_list("pk", "request"))
    made = model("Notice").objects.bulk_create(
        (
            model("Notice")(
                appointment_id=key,
                request_id=request,
                kind="booked",
                raised_at=SENT,
                state="waiting" if number < MESSAGES else "told",
                told_at=None if number < MESSAGES else SENT,
            )
            for number, (key, request) in enumerate(rows)
        ),
        batch_size=5000,
    )
    waiting = model("Notice").objects.filter(state="waiting").values("request__subject")
    for subject in model("Subject").objects.filter(pk__in=waiting):
        subject.email = "bench@example.invalid"
        subject.save()
    return len(made)


def main() -> int:
    """Fill a database, send some, open the pages."""
    most = int(sys.argv[1]) if len(sys.argv) > 1 else 50_000
    django.setup()
    send_due = import_module("sites.outbox").send_due
    connection = import_module("django.db").connection
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    settings.NOW = SENT - timedelta(days=400)
    with scratch():
        fill(most)
        with timed(f"{connection.vendor}: {most} requests, notices of {notices()}") as say:
            say(f"{send_due()}")
        settings.NOW = SENT + timedelta(days=(TODAY - SENT.date()).days)
        chief = apps.get_model("record", "User").objects.create_superuser("chief")
        client = Client(headers={"host": "localhost"})
        client.force_login(chief)
        for page in PAGES:
            client.get(page)
            with timed(page) as say, CaptureQueriesContext(connection) as asked:
                say(f"status {client.get(page).status_code}, {len(asked)} queries")
    return 0


if __name__ == "__main__":
    sys.exit(main())
