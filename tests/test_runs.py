"""What one run of the tests shares with another in the same checkout: nothing."""

from pathlib import Path

import pytest
from django.db import connection
from django.test import TransactionTestCase

from apps.accounts.models import User
from tests.conftest import may_touch_rows


@pytest.mark.skipif(connection.vendor != "sqlite", reason="Only SQLite keeps its rows in a file.")
def test_rows_are_kept_in_a_file_of_this_run(db, tmp_path_factory):
    used = Path(connection.settings_dict["NAME"])
    assert used.is_file() and used.is_relative_to(tmp_path_factory.getbasetemp())


class TestRows(TransactionTestCase):
    def test_case_of_a_class_touches_rows(self):
        assert not User.objects.exists()


def test_what_touches_no_rows_is_left_out_on_postgresql(request):
    ours = [item for item in request.session.items if item.path == request.path]
    kept = {item.name: may_touch_rows(item) for item in ours}
    assert kept == {name: name != "test_this_touches_none" for name in kept}


def test_this_touches_none():
    assert connection.vendor == "sqlite"
