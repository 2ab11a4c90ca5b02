"""A keeper's tanks are found by indexes, however many tanks others have."""

import copy

import pytest
from django.db import connection

from apps.tanks.models import Tank
from tests.factories import make_tank, make_user

pytestmark = pytest.mark.one_database
OTHERS = 1000


def copies(tank, owner, count):
    """Yield tanks of another keeper that are like one, not stored yet."""
    for _ in range(count):
        made = copy.copy(tank)
        made.pk, made.owner = None, owner
        yield made


def steps(query):
    """Return the steps of SQLite's plan for a query."""
    sql, params = query.query.sql_with_params()
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {sql}", params)
        return [row[-1] for row in cursor.fetchall()]


@pytest.mark.parametrize("reading", ["visible_to", "changeable_by", "owned_by"])
@pytest.mark.parametrize("is_analysed", [False, True])
def test_no_reading_of_a_keepers_tanks_reads_all_tanks(owner, reading, is_analysed):
    other, one = make_user(), make_tank(owner)
    # Of a few rows a database reads all, since that is quicker.
    Tank.objects.bulk_create(copies(one, other, OTHERS))
    if is_analysed:
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    plain = getattr(Tank.objects, reading)(owner)
    for query in (plain, plain.with_role_of(owner).select_related("owner")):
        plan = steps(query)
        assert not [step for step in plan if step.split()[:2] == ["SCAN", "tanks_tank"]], plan
