"""Serves the rows of a test as an installation does: gunicorn, debug off, collected files."""

import os
import socket
import subprocess
import sys
import time
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.error import URLError
from urllib.parse import quote
from urllib.request import urlopen

from django.conf import settings
from django.db import connection
from django.test.utils import override_settings

ROOT = Path(settings.BASE_DIR)
HOST = "localhost"
# As many as a small host runs: what one worker keeps to itself, the other does not know.
WORKERS = 2
START_S = 60
CONFIG = ROOT / "reeflog/deploy/gunicorn.conf.py"
METRICS_TOKEN = "metrics-token-of-the-tests"
# Made for the tests, and of no site.
PUSH_KEY = "5ufKAcuY9JK4P_EMwt62gD8YgdUb88nCBAv72FLiTBk"


class ServedApp:
    """The app in processes of their own on a free port, with `folder` for its data."""

    # pytest-django switches these on for each test that asks for a live server; none are needed.
    _live_server_modified_settings = override_settings()

    def __init__(self, folder: Path, *, workers: int = WORKERS, **settings: str):
        self.folder, self.workers = folder, workers
        self.environment = served_environment(folder) | settings
        # Bound here and handed on: no other process can take the port in between.
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.host, self.port = HOST, self.listener.getsockname()[1]
        self.log = folder / "gunicorn.log"
        link_static(folder)
        self.process = self.start()
        self.wait()

    @property
    def url(self) -> str:
        return f"http://{self.host}:{self.port}"

    def opened_here(self, link: str) -> str:
        """Return a link that a page shows as it opens here, where nothing ends HTTPS."""
        assert link.startswith("https://"), link
        return link.replace("https://", "http://", 1)

    @property
    def photos(self) -> Path:
        return self.folder / "photos"

    def start(self):
        listener = self.listener.fileno()
        told = [f"--workers={self.workers}", f"--bind=fd://{listener}"]
        command = [sys.executable, "-m", "gunicorn", "tests.served_app", f"--config={CONFIG}"]
        with self.log.open("wb") as log:
            return subprocess.Popen(
                command + told,
                cwd=ROOT,
                env=self.environment,
                pass_fds=[listener],
                stdin=subprocess.PIPE,
                stderr=log,
                stdout=log,
            )

    def wait(self):
        """Return once the front page is there; what stands in the log says why it is not."""
        until = time.monotonic() + START_S
        while time.monotonic() < until and self.process.poll() is None:
            try:
                urlopen(self.url, timeout=START_S).close()
            except URLError:
                time.sleep(0.1)
            else:
                return
        self.close()
        raise RuntimeError(f"The app does not start:\n{self.log.read_text()[-3000:]}")

    def close(self):
        self.process.terminate()
        self.process.wait(timeout=START_S)
        self.process.stdin.close()
        self.listener.close()


@cache
def collected() -> TemporaryDirectory:
    """Collect the static files as `start.sh` does, once for all that this process serves."""
    folder = TemporaryDirectory(prefix="collected-")
    command = [sys.executable, "manage.py", "collectstatic", "--no-input", "-v0"]
    environment = served_environment(Path(folder.name))
    subprocess.run(command, cwd=ROOT, env=environment, check=True)
    return folder


def link_static(folder: Path) -> None:
    """Let the data folder of an app have the collected static files, where it has none."""
    if not (folder / "static").exists():
        folder.mkdir(parents=True, exist_ok=True)
    (folder / "static").symlink_to(Path(collected().name, "static"))


def served_environment(folder, database=None):
    """Return the environment that the deploy guide asks for; by default with the run's database."""
    ours = ("REEFLOG_", "DATABASE_URL", "DJANGO_", "GUNICORN_", "WEB_CONCURRENCY")
    kept = {k: v for k, v in os.environ.items() if not k.startswith(ours)}
    return kept | {
        "REEFLOG_DEBUG": "off",
        # The same key as here, so that who is signed in here is signed in there.
        "REEFLOG_SECRET_KEY": settings.SECRET_KEY,
        "REEFLOG_ALLOWED_HOSTS": HOST,
        "REEFLOG_PROXY_COUNT": "1",
        "REEFLOG_CONTACT": "mailto:host@example.org",
        "REEFLOG_PUSH_KEY": PUSH_KEY,
        "REEFLOG_METRICS_TOKEN": METRICS_TOKEN,
        # Its threads would take the jobs that other tests put down in the same database.
        "REEFLOG_JOBS": "at-once",
        "REEFLOG_DATA_DIR": str(folder),
        "DATABASE_URL": database_url(database or connection.settings_dict),
    }


def database_url(told):
    if connection.vendor == "sqlite":
        return f"sqlite:///{told['NAME']}"
    user, password, host = (quote(told[key], safe="") for key in ("USER", "PASSWORD", "HOST"))
    return f"postgres://{user}:{password}@{host}:{told['PORT']}/{told['NAME']}"
