"""The small cast every view test plays with: owner, co-keeper, viewer, stranger."""

import gc
from pathlib import Path

import pytest
from django.core.cache import caches
from django.db import connection, transaction
from django.test import Client, TransactionTestCase

from apps.common import kept
from apps.tanks.models import Membership
from reeflog.demo import load_demo
from tests import statements
from tests.factories import let_in, make_tank, make_user
from tests.frame_room import FrameRoom
from tests.midnight import (  # noqa: F401 - pytest calls them
    pytest_pycollect_makemodule,
    pytest_runtest_protocol,
)
from tests.paths import ROOT
from tests.serving import ServedApp

# What takes longest, by what was measured: a core that begins one last would leave the other idle.
LONG_FIRST = tuple(
    ROOT / "tests" / place
    for place in ("", "hosting", "api", "transfer", "tanks/kept_pages", "photics/field")
)


def pytest_configure(config):
    statements.begin_noting(config)
    config.pluginmanager.register(FrameRoom())


def pytest_collectstart():
    """Look for no garbage in what comes to stay: modules, and ten thousand tests."""
    gc.disable()


def pytest_collection_finish():
    """Look for it from here on, in what tests leave."""
    gc.enable()
    gc.collect()
    gc.freeze()


def pytest_collection_modifyitems(config, items):
    """Begin with what takes longest, and leave out what this database need not answer."""
    items.sort(key=lambda item: item.path.parent not in LONG_FIRST)
    leave_out_on_postgres(config, items)


def leave_out_on_postgres(config, items):
    """On PostgreSQL leave out what touches no database or is answered as on SQLite."""
    if connection.vendor != "postgresql":
        return
    worth = [item for item in items if may_touch_rows(item)]
    if statements.FOLDER:
        worth = statements.worth_asking(worth, Path(statements.FOLDER))
    config.hook.pytest_deselected(items=[*set(items) - set(worth)])
    items[:] = worth


def may_touch_rows(item):
    """Tell whether a test asks for a database, or may ask for anything while it runs."""
    if item.get_closest_marker("one_database"):
        return False
    return bool(
        {"db", "transactional_db"} & set(item.fixturenames)
        or item.get_closest_marker("django_db")
        or issubclass(item.cls or object, TransactionTestCase)
        or "request" in item._fixtureinfo.argnames
    )


@pytest.fixture(scope="session")
def django_db_modify_db_settings(tmp_path_factory, django_db_modify_db_settings_parallel_suffix):
    """Give each run a SQLite file of its own: two runs in one checkout never meet.

    A file, as the app has it: what serves the browser then has connections of its own.
    """
    if connection.vendor == "sqlite":
        scratch = tmp_path_factory.mktemp("database")
        connection.settings_dict["TEST"]["NAME"] = str(scratch / "test.sqlite3")


@pytest.fixture(scope="session")
def served_app(django_db_setup, django_db_blocker, tmp_path_factory):
    """Serve this run's database as an installation does; rows need `transactional_db`."""
    with django_db_blocker.unblock():
        app = ServedApp(tmp_path_factory.mktemp("served"))
    yield app
    app.close()


@pytest.fixture(autouse=True)
def quick_passwords(settings):
    """Hash passwords cheaply: nothing here guards a real account."""
    settings.PASSWORD_HASHERS = ["tests.quick_passwords.QuickHasher"]


@pytest.fixture(autouse=True)
def photos_in_a_scratch_folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path / "photos"


@pytest.fixture(autouse=True)
def kept_in_memory_only(settings):
    """What one test worked out is no other test's; `tests/common/test_kept.py` turns it on."""
    settings.KEPT_MB_MAX = 0


@pytest.fixture(autouse=True)
def jobs_at_once(settings):
    """Nothing runs behind a test; `tests/later` tries what does where pages are served."""
    settings.JOBS = "at-once"


@pytest.fixture(scope="module")
def scenario(django_db_setup, django_db_blocker):
    """Load the demo once for a module; what a test changes is undone, as everywhere."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield load_demo()
        transaction.set_rollback(True)


@pytest.fixture
def owner(db):
    return make_user(email="owner@example.org", display_name="Ottilie")


@pytest.fixture
def tank(owner):
    return make_tank(owner)


@pytest.fixture
def co_keeper(tank):
    user = make_user(email="cokeeper@example.org", display_name="Cornelis")
    let_in(tank, user, Membership.Role.CO_KEEPER)
    return user


@pytest.fixture
def viewer(tank):
    user = make_user(email="viewer@example.org", display_name="Vida")
    let_in(tank, user)
    return user


@pytest.fixture
def stranger(db):
    return make_user(email="stranger@example.org", display_name="Stellan")


@pytest.fixture
def as_user():
    """Return a function that gives a signed-in test client for a user."""

    def sign_in(user):
        client = Client()
        client.force_login(user)
        return client

    return sign_in


@pytest.fixture
def kept_folder(settings, tmp_path):
    """Keep what is worked out in a folder of the test's own, empty at first; return it."""
    settings.KEPT_DIR, settings.KEPT_MB_MAX = tmp_path / "kept", 64
    caches["maps"].clear()
    kept._open.cache_clear()
    yield tmp_path / "kept"
    kept._open.cache_clear()
