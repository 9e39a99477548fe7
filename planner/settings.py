"""Settings: everything that differs between machines comes from the environment.

The commands that work on files need none of it: no database and no secret.
"""

from pathlib import Path

import environ

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()

DEBUG = env.bool("PLATEN_DEBUG", default=False)
DEMO = env.bool("PLATEN_DEMO", default=False)  # invented data, on this machine only
KNOWN = "known-to-everybody-for-invented-data-only" if DEBUG or DEMO else ""
# Left empty, the first use of one of these is refused; commands on files never use them.
SECRET_KEY = env.str("PLATEN_SECRET_KEY", default=KNOWN)
CONTACT_KEYS = env.list("PLATEN_CONTACT_KEYS", default=[KNOWN] if KNOWN else [])
LOOKUP_KEY = env.str("PLATEN_LOOKUP_KEY", default=KNOWN)
ALLOWED_HOSTS = env.list("PLATEN_HOSTS", default=["localhost", "127.0.0.1", "[::1]"])

INSTALLED_APPS = [
    "planner",
    "sites",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ]
        },
    }
]

ROOT_URLCONF = "planner.urls"
WSGI_APPLICATION = "planner.wsgi.application"

VAR = Path(env.str("PLATEN_VAR", default=str(BASE_DIR / "var")))
FILE = VAR / ("demo.sqlite3" if DEMO else "record.sqlite3")
DATABASES = {"default": env.db("DATABASE_URL", default=f"sqlite:///{FILE}")}
if DATABASES["default"]["ENGINE"] == "django.db.backends.sqlite3":
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 5,  # seconds; a service tries again, then says that the record is busy
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; "
        "PRAGMA recursive_triggers=ON;",
    }
AUTH_USER_MODEL = "record.User"
USE_TZ = True
TIME_ZONE = "UTC"
LANGUAGE_CODE = "en"
STATIC_URL = "static/"
WHITENOISE_USE_FINDERS = True  # no collecting of files before the first start

# Travel: minutes = kilometres as the crow flies × detour ÷ speed; defaults of ours.
TRAVEL_DETOUR = env.float("PLATEN_TRAVEL_DETOUR", default=1.3)
TRAVEL_KMH = env.float("PLATEN_TRAVEL_KMH", default=40.0)
