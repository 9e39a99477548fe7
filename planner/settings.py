"""Settings: what runs today needs no database and no server, only templates and commands."""

from pathlib import Path

BASE_DIR = Path(__file__).resolve().parent.parent
SECRET_KEY = "only-commands-run-today-nothing-is-signed"  # noqa: S105 - no server, nothing signed
INSTALLED_APPS = ["planner"]
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
    }
]
USE_TZ = True
