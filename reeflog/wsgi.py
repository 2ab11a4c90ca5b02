"""WSGI entry point. A served app is never in debug unless told so by name."""

import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
os.environ.setdefault("REEFLOG_DEBUG", "off")

from django.conf import settings

if settings.METRICS_TOKEN:
    # All workers count into one folder; read when the counting library is first loaded.
    settings.METRICS_DIR.mkdir(parents=True, exist_ok=True)
    os.environ.setdefault("PROMETHEUS_MULTIPROC_DIR", str(settings.METRICS_DIR))

from django.core.wsgi import get_wsgi_application

from apps.common.serving.frame_room import with_frame_room

application = with_frame_room(get_wsgi_application())

if settings.JOBS == "thread":
    from apps.later.behind import start

    start()
