"""WSGI entry point. A served app is never in debug unless told so by name."""

import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
os.environ.setdefault("REEFLOG_DEBUG", "off")

from django.core.wsgi import get_wsgi_application

application = get_wsgi_application()
