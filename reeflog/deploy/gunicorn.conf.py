"""How gunicorn serves reeflog on one machine; WEB_CONCURRENCY and BIND may say otherwise."""

import gc
import os
import shutil
import sys

bind = os.environ.get("BIND", "127.0.0.1:8000")
# One a core; two at least, so that a page is served while another worker starts anew.
workers = int(os.environ.get("WEB_CONCURRENCY", max(2, os.cpu_count() or 1)))
# Threads hold the lines that a proxy keeps open. They make pages one after the other
# (`tanks/kept_pages/turns.py`); meanwhile the others do what takes a moment, and some must be left.
worker_class, threads = "gthread", 16
# The largest zip that a keeper may bring in by a page takes half a minute on a busy machine.
timeout, graceful_timeout = 120, 30
# A worker says that it lives in memory, not on a disk that may be slow or read-only.
worker_tmp_dir = "/dev/shm"
control_socket_disable = True


def on_starting(server):
    """Forget what workers of the last start counted: their files would only grow."""
    shutil.rmtree(os.path.join(os.environ.get("REEFLOG_DATA_DIR", "data"), "metrics"), True)


def post_worker_init(worker):
    """Let short requests pass beside those that count, and keep pauses out of them."""
    from pathlib import Path

    from django.conf import settings
    from django.template.loader import get_template
    from django.urls import reverse

    # All code and templates of all pages are there before the first request, and are never looked
    # through for what nobody uses any more: that took a third of a second every so often.
    reverse("tank_list")
    for folder in settings.TEMPLATES[0]["DIRS"]:
        for path in Path(folder).rglob("*.html"):
            get_template(path.relative_to(folder).as_posix())
    gc.collect()
    gc.freeze()
    # Pages make many objects that last as long as the page: to look through them every 700, as
    # Python does, took a tenth of their time.
    gc.set_threshold(50_000, 20, 100)
    # A request that waits for one row after the other gets its turn from one that fits a map ten
    # times as soon as by Python's own 5 ms.
    sys.setswitchinterval(0.0005)
