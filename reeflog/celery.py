"""Entry point of the workers that do jobs behind the pages: celery -A reeflog worker."""

import os

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
os.environ.setdefault("REEFLOG_DEBUG", "off")

import django
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

django.setup()
if settings.CELERY_BROKER:
    from apps.later.celery_queue import app
else:
    raise ImproperlyConfigured("REEFLOG_CELERY_BROKER must be set for workers of their own.")

__all__ = ["app"]
