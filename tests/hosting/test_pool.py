"""Lines to PostgreSQL that a worker's threads share."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection
from django.urls import reverse

from tests.factories import make_tank
from tests.serving import WORKERS, ServedApp
from tests.test_environment import SERVED, manage
from tests.test_served import Visitor

LINES = 2


def lines_of_others():
    """Return how many lines to this database are open but for the test's own."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT count(*) FROM pg_stat_activity "
            "WHERE datname = current_database() AND pid <> pg_backend_pid()"
        )
        return cursor.fetchone()[0]


def test_threads_share_their_lines(transactional_db, tmp_path):
    if connection.vendor != "postgresql":
        pytest.skip("SQLite has no lines.")
    tank, before = make_tank(), lines_of_others()
    app = ServedApp(tmp_path, REEFLOG_POOL_MAX=str(LINES))
    try:
        keeper, path = Visitor(app, tank.owner), reverse("tank_detail", args=[tank.pk])
        with ThreadPoolExecutor(12) as keepers:
            answers = list(keepers.map(lambda _: keeper.ask("GET", path)[0], range(60)))
        assert answers == [200] * 60
        assert 0 < lines_of_others() - before <= WORKERS * LINES
    finally:
        app.close()


@pytest.mark.parametrize(("jobs", "most"), [("at-once", 3), ("thread", 5)])
def test_the_setting_is_read(tmp_path, jobs, most):
    told = "from django.conf import settings; print(settings.DATABASES['default']['OPTIONS'])"
    stated = {"DATABASE_URL": "postgres://a@127.0.0.1:1/a", "REEFLOG_POOL_MAX": "3"}
    stated["REEFLOG_JOBS"] = jobs
    done = manage("shell", "-v0", "--no-imports", "-c", told, tmp_path=tmp_path, **SERVED | stated)
    assert f"'max_size': {most}" in done.stdout, done.stderr
