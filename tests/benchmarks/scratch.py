"""A database, photos and nothing kept, for one run of a benchmark."""

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path


def run_on_postgres(module: str, words: Sequence[str]) -> None:
    """Run a module once more, over a PostgreSQL of its own.

    Settings are read once, so that it runs in a process that knows this database.
    """
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
    import django

    # The cluster finds its programs as a backup does, and that reads models.
    django.setup()
    from tests.hosting.postgres import Cluster

    with Cluster() as cluster:
        url = f"postgres://reeflog@127.0.0.1:{cluster.port}/postgres"
        command = [sys.executable, "-m", module, *words]
        subprocess.run(command, env=os.environ | {"DATABASE_URL": url}, check=True)


@contextmanager
def scratch_rows() -> Iterator[Path]:
    """Set Django up with an empty database until the end; return the folder of this run.

    What calls itself cold is worked out, as the store that all workers share is off. Each run has
    files of its own, so that two may run at once.
    """
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
    import django

    django.setup()
    from django.db import connection
    from django.test.utils import (
        override_settings,
        setup_test_environment,
        teardown_test_environment,
    )

    name = connection.settings_dict["NAME"]
    with tempfile.TemporaryDirectory() as folder:
        if connection.vendor == "sqlite":
            connection.settings_dict["TEST"]["NAME"] = str(Path(folder) / "rows.sqlite3")
        with override_settings(KEPT_MB_MAX=0, MEDIA_ROOT=str(Path(folder) / "photos")):
            setup_test_environment()
            connection.creation.create_test_db(verbosity=0, serialize=False)
            try:
                yield Path(folder)
            finally:
                connection.creation.destroy_test_db(name, verbosity=0)
                teardown_test_environment()
