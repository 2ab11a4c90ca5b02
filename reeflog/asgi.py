"""ASGI entry point. A served app is never in debug unless told so by name."""

import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
os.environ.setdefault("REEFLOG_DEBUG", "off")

from django.core.asgi import get_asgi_application

application = get_asgi_application()
