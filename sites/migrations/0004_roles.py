"""Auditor and administrator as roles; what logins could see before is written out.

Before, a login that named no site covered all of them; now a scoped role that names none covers
none. So that nobody loses sight of their work by an upgrade, scoped logins without a site are given
all sites of this moment: to be narrowed by an administrator. Superusers become administrators.
"""

from typing import Any

from django.db import migrations, models

SCOPED = ["coordinator", "site_lead", "technician"]


def settle(schema_editor: Any) -> None:
    """Let PostgreSQL check what was written before a table changes."""
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("SET CONSTRAINTS ALL IMMEDIATE")


def forwards(apps: Any, schema_editor: Any) -> None:
    User = apps.get_model("record", "User")
    Site = apps.get_model("record", "Site")
    through = User.covers.through
    User.objects.filter(is_superuser=True).update(role="administrator")
    open_ended = User.objects.filter(role__in=SCOPED, covers__isnull=True)
    sites = list(Site.objects.order_by("pk").values_list("pk", flat=True))
    people = list(open_ended.order_by("pk").values_list("pk", flat=True))
    through.objects.bulk_create(
        [through(user_id=user, site_id=site) for user in people for site in sites], batch_size=500
    )
    settle(schema_editor)


def backwards(apps: Any, schema_editor: Any) -> None:
    User = apps.get_model("record", "User")
    User.objects.filter(role="administrator").update(role="manager")
    # There was no role that changes nothing: an auditor's login is switched off, not promoted.
    User.objects.filter(role="auditor").update(role="technician", is_active=False)
    settle(schema_editor)


class Migration(migrations.Migration):
    dependencies = [
        ("auth", "0012_alter_user_first_name_max_length"),
        ("record", "0003_background_runs"),
    ]

    operations = [
        migrations.AlterModelManagers(name="user", managers=[]),
        migrations.RemoveConstraint(model_name="user", name="user_role_known"),
        migrations.AlterField(
            model_name="user",
            name="role",
            field=models.CharField(
                choices=[
                    ("coordinator", "Coordinator"),
                    ("site_lead", "Site lead"),
                    ("manager", "Manager"),
                    ("technician", "Technician"),
                    ("auditor", "Auditor"),
                    ("administrator", "Administrator"),
                ],
                default="technician",
                max_length=16,
            ),
        ),
        migrations.RunPython(forwards, backwards),
        migrations.AddConstraint(
            model_name="user",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    (
                        "role__in",
                        [
                            "coordinator",
                            "site_lead",
                            "manager",
                            "technician",
                            "auditor",
                            "administrator",
                        ],
                    )
                ),
                name="user_role_known",
            ),
        ),
        migrations.AddConstraint(
            model_name="user",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("is_superuser", True), ("role", "administrator")),
                    models.Q(
                        models.Q(("role", "administrator"), _negated=True),
                        ("is_superuser", False),
                    ),
                    _connector="OR",
                ),
                name="user_administrator_is_superuser",
            ),
        ),
    ]
