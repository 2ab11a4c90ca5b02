"""What benchmarks call cold is worked out, in rows and files of their own."""

from pathlib import Path
from unittest import mock

import pytest
from django.conf import settings as live
from django.db import connection

from apps.common.kept import kept
from tests import benchmarks
from tests.benchmarks.scratch import scratch_rows

# Where the store is what is measured, or a served app: it has one of its own.
OWN_STORE = {"bench_pages.py", "bench_first_paint.py"}


@pytest.fixture
def rows_left_alone(db):
    """A benchmark makes its own database; here it must not touch the one of the tests."""
    made = mock.patch.multiple(
        connection.creation, create_test_db=mock.DEFAULT, destroy_test_db=mock.DEFAULT
    )
    with (
        made,
        mock.patch.dict(connection.settings_dict["TEST"]),
        mock.patch("django.test.utils.setup_test_environment"),
        mock.patch("django.test.utils.teardown_test_environment"),
    ):
        yield


def test_nothing_kept_on_disk_serves_a_benchmark(rows_left_alone, settings, tmp_path):
    settings.KEPT_MB_MAX, settings.KEPT_DIR = 64, tmp_path / "kept"
    kept("warm", lambda: "kept before")
    with scratch_rows() as folder:
        from django.core.cache import caches

        caches["maps"].clear()
        assert kept("warm", lambda: "worked out") == "worked out"
        assert Path(live.MEDIA_ROOT).parent == folder
    caches["maps"].clear()
    assert kept("warm", lambda: "worked out") == "kept before"


def test_every_benchmark_takes_its_rows_from_there():
    folder = Path(benchmarks.__path__[0])
    own = {path.name for path in folder.glob("bench_*.py") if "create_test_db" in path.read_text()}
    assert own == OWN_STORE
