"""What one run of the tests shares with another in the same checkout: nothing."""

from pathlib import Path

import pytest
from django.db import connection


@pytest.mark.skipif(connection.vendor != "sqlite", reason="Only SQLite keeps its rows in a file.")
def test_rows_are_kept_in_a_file_of_this_run(db, tmp_path_factory):
    used = Path(connection.settings_dict["NAME"])
    assert used.is_file() and used.is_relative_to(tmp_path_factory.getbasetemp())
