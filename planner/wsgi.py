"""What a server runs. It never shows the inside of an error: debugging is for ``runserver``."""

import os
import sys

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")
if settings.DEBUG and "runserver" not in sys.argv and "serve" not in sys.argv:
    raise ImproperlyConfigured(
        "PLATEN_DEBUG is set: it shows the inside of errors to everybody; unset it"
    )
application = get_wsgi_application()
