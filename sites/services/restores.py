"""Keeping that a backup was put back: in the record that came with it, and so in its audit."""

from __future__ import annotations

import os
import pwd
from contextlib import suppress
from datetime import datetime

from django.utils import timezone

from sites.models import Restore
from sites.services.write import written


@written
def restore_keep(*, made_at: datetime, digest: str, rows: int) -> Restore:
    """Keep which backup was put back just now, and under which account of the machine."""
    account = f"{os.geteuid()}"
    with suppress(KeyError):
        account = pwd.getpwuid(os.geteuid()).pw_name
    return Restore.objects.create(
        at=timezone.now(), made_at=made_at, digest=digest, rows=rows, account=account[:64]
    )
