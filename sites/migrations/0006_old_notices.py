"""Notices of before: who was told stays told, everybody else is left to a person.

Nothing that was raised before messages were sent leaves by itself.
"""

from typing import Any

from django.db import migrations
from django.db.models import OuterRef, Subquery


def settle(apps: Any, schema_editor: Any) -> None:
    Notice = apps.get_model("record", "Notice")
    Appointment = apps.get_model("record", "Appointment")
    booked = Notice.objects.filter(kind__in=["booked", "moved", "cancelled"])
    made = Appointment.objects.filter(
        request=OuterRef("request"), events__what="book", events__at__lte=OuterRef("raised_at")
    ).order_by("-events__at", "-pk")
    booked.update(appointment_id=Subquery(made.values("pk")[:1]))
    Notice.objects.filter(told_at__isnull=False).update(state="told")
    Notice.objects.filter(told_at__isnull=True).update(state="phone")


class Migration(migrations.Migration):
    dependencies = [("record", "0005_notices")]
    operations = [migrations.RunPython(settle, migrations.RunPython.noop)]
