"""A site of its own for a test: database and files that may be replaced as a whole."""

import shutil

import pytest
from django.db import connection

from tests.hosting.postgres import filled_like
from tests.test_migrations import empty_database


@pytest.fixture
def site(transactional_db, tmp_path, settings):
    """Give the test an installation in a folder of its own; return the folder."""
    folder = tmp_path / "site"
    folder.mkdir()
    settings.DATA_DIR, settings.MEDIA_ROOT = folder, folder / "photos"
    stated = connection.settings_dict
    before = stated["NAME"]
    connection.close()
    if connection.vendor == "sqlite":
        stated["NAME"] = str(folder / "reeflog.sqlite3")
        shutil.copy(before, stated["NAME"])
        yield folder
        connection.close()
    else:
        with empty_database(folder) as empty:
            filled_like(before, empty["NAME"])
            stated["NAME"] = empty["NAME"]
            yield folder
            connection.close()
            stated["NAME"] = before
    stated["NAME"] = before
