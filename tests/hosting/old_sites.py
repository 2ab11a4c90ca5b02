"""Keep the site of an earlier commit as a small file: its tables with the demo's rows of its day.

    python -m tests.hosting.old_sites COMMIT 2026-11-26

Run once for the last commit of a day that added a migration, and once a version.
"""

import argparse
import io
import lzma
import os
import sqlite3
import subprocess
import sys
import tarfile
import tempfile
from contextlib import closing, contextmanager
from pathlib import Path

from django.db import connection

from tests.paths import DATA, ROOT

FOLDER = DATA / "old_sites"


def keep(commit, name):
    """Migrate and fill a database by the code of a commit; write it below `name`."""
    packed = subprocess.run(["git", "archive", commit], cwd=ROOT, check=True, capture_output=True)
    with tempfile.TemporaryDirectory() as scratch:
        code, data = Path(scratch) / "code", Path(scratch) / "data"
        with tarfile.open(fileobj=io.BytesIO(packed.stdout)) as tar:
            tar.extractall(code, filter="data")
        environment = os.environ | {"REEFLOG_DATA_DIR": str(data), "REEFLOG_DEBUG": "on"}
        for command in ("migrate", "load_demo"):
            told = [sys.executable, "manage.py", command, "-v0"]
            subprocess.run(told, cwd=code, env=environment, check=True)
        with closing(sqlite3.connect(data / "reeflog.sqlite3")) as database:
            script = "\n".join(database.iterdump())
    FOLDER.mkdir(exist_ok=True)
    path = FOLDER / f"{name}.sql.xz"
    path.write_bytes(lzma.compress(script.encode(), preset=9 | lzma.PRESET_EXTREME))
    return path


def unpack(name, path):
    """Write the database of an earlier day to a file."""
    script = lzma.decompress((FOLDER / f"{name}.sql.xz").read_bytes()).decode()
    with closing(sqlite3.connect(path)) as database:
        database.executescript(script)


@contextmanager
def opened(name, folder, settings):
    """Let the app have the database of an earlier day, in a folder; yield its file."""
    # Its module is of use only once Django is set up, which keeping a site needs not.
    from django.contrib.contenttypes.models import ContentType

    path, stated = folder / "reeflog.sqlite3", connection.settings_dict
    unpack(name, path)
    # Tests have their tables made from the models.
    settings.DATA_DIR, settings.MIGRATION_MODULES = folder, {}
    own = stated["NAME"]
    connection.close()
    stated["NAME"] = str(path)
    ContentType.objects.clear_cache()
    yield path
    connection.close()
    stated["NAME"] = own
    ContentType.objects.clear_cache()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("commit")
    parser.add_argument("name")
    chosen = parser.parse_args()
    print(keep(chosen.commit, chosen.name))
