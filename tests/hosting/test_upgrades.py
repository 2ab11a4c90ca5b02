"""Sites of earlier days become a site of today: no row is lost, and their pages open.

Their databases are made by `tests/hosting/old_sites.py`.
"""

import os
import re

import pytest
from django.core.cache import caches
from django.core.management import call_command
from django.db import connection

from apps.accounts.models import User
from apps.hosting.watching.readiness import pending_migrations
from tests.hosting.old_sites import FOLDER, opened

KEEPER = "maren@example.org"
SITES = sorted(path.name.removesuffix(".sql.xz") for path in FOLDER.glob("*.xz"))
# A few migrations from a neighbour, or tried on SQLite anyhow: only where time is given.
LEFT_OUT = {
    "sqlite": ("2026-11-28",),
    "postgresql": ("2026-11-26", "2026-11-28", "2026-11-29-morning", "2026-11-29-noon"),
}[connection.vendor]
TRIED = SITES if os.environ.get("WHOLE") == "on" else [s for s in SITES if s not in LEFT_OUT]
LINK = re.compile(r"href=\"(/[^\"#?]*)")
# Files and what ends the session are no pages; photos were not kept with the rows.
NO_PAGE = re.compile(r"/(static|accounts/logout|photos|admin|api)|.*\.(png|svg|csv|zip|pdf|ics)$")


def rows_now():
    """Return {table: {primary key: {column: value}}} of the tables of our apps."""
    apps = ("accounts_", "clubs_", "corals_", "lighting_", "outcomes_", "planning_", "sharing_",
            "surveys_", "tanks_")  # fmt: skip
    with connection.cursor() as cursor:
        names = connection.introspection.table_names(cursor)
        ours = [name for name in names if name.startswith(apps) and name != "tanks_tankstamp"]
        return {table: rows_of(cursor, table) for table in ours}


def rows_of(cursor, table):
    cursor.execute(f'SELECT * FROM "{table}"')
    columns = [column[0] for column in cursor.description]
    rows = [dict(zip(columns, row, strict=True)) for row in cursor.fetchall()]
    return {row["id"]: row for row in rows}


@pytest.fixture(params=TRIED)
def old_site(request, transactional_db, tmp_path, settings):
    """Give the test the database of an earlier day, migrated; return its rows before."""
    with opened(request.param, tmp_path, settings):
        before = rows_now()
        call_command("migrate", verbosity=0)
        yield before


def test_a_site_of_an_earlier_day_keeps_all_and_opens(old_site, as_user):
    assert pending_migrations() == 0
    after = rows_now()
    lost = [(table, row, after[table].get(key)) for table, rows in old_site.items()
            for key, row in rows.items()
            if key not in after[table] or not is_kept(table, row, after[table][key])]  # fmt: skip
    assert not lost
    assert len(old_site["surveys_reading"]) == 102 == len(after["surveys_reading"])
    caches["maps"].clear()
    pages = pages_of(as_user(User.objects.get(email=KEEPER)))
    assert {path: status for path, status in pages.items() if status != 200} == {}
    assert len(pages) > 25


def is_kept(table, before, after):
    """Return whether a row of today holds all that it held, as it stood or as it was turned."""
    values = {column: after[column] for column in before}
    return values == before or (table == "lighting_lightchange" and values == as_words(before))


def as_words(change):
    """Return a light change whose factor says what hangs says as well: told, not counted twice."""
    told = f"{change['summary']} (told then: light × {change['factor']:g} in all)"
    return change | {"factor": 1.0, "summary": told}


def pages_of(client):
    """Return {path: status} of the pages that the lists of tanks and their first one link to."""
    opened, first = {}, "/tanks/1/"
    for path in ("/tanks/", first):
        links = LINK.findall(client.get(path).content.decode())
        for link in dict.fromkeys([path, *links]):
            if link not in opened and not NO_PAGE.match(link):
                opened[link] = client.get(link, follow=True).status_code
    return opened
