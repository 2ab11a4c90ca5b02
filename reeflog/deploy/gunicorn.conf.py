"""How gunicorn serves reeflog on one machine; WEB_CONCURRENCY and BIND may say otherwise."""

import os
import shutil

bind = os.environ.get("BIND", "127.0.0.1:8000")
# Two a core: one may wait for the disk while the other counts.
workers = int(os.environ.get("WEB_CONCURRENCY", 2 * (os.cpu_count() or 1)))
# Threads hold the lines that a proxy keeps open.
worker_class, threads = "gthread", 4
# The largest zip that a keeper may bring in by a page takes half a minute on a busy machine.
timeout, graceful_timeout = 120, 30
# A worker says that it lives in memory, not on a disk that may be slow or read-only.
worker_tmp_dir = "/dev/shm"
control_socket_disable = True


def on_starting(server):
    """Forget what workers of the last start counted: their files would only grow."""
    shutil.rmtree(os.path.join(os.environ.get("REEFLOG_DATA_DIR", "data"), "metrics"), True)
