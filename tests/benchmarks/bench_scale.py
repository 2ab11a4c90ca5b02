"""Pages of one keeper on a small site and on a large one: CPU time, queries, and plans of these.

    TANKS=10000 python -m tests.benchmarks.bench_scale

The same ten tanks are looked at beside nothing else (5,000 readings), then beside those of many
other keepers (10,000 tanks: 5 million readings, 2 million notes). A page may take 1.5 times as long
and asks as often. Of each query the database is asked for its plan: one that reads a whole large
table is named.
"""

import json
import os
import statistics
import time
import uuid

from tests.benchmarks.scratch import scratch_rows

TANKS = int(os.environ.get("TANKS", "1000"))
RUNS, WORSE_MAX = 3, 1.5
# Timed; of all others only the queries are looked at.
TIMED = (
    "tank_list", "tank_detail", "light_map", "survey_list", "survey_detail", "coral_list",
    "coral_detail", "note_list", "outcome_list", "light_change_list", "log_list",
    "water_event_list", "deleted_list", "search", "club_list", "plan_list", "meter_list",
    "settings_edit", "api-tank-list", "api-survey-list", "api-note-list", "api-coral-list",
)  # fmt: skip
# Below that, the clock of the process says nothing [ms].
LEAST_MS = 20.0
LARGE = ("surveys_reading", "corals_healthnote", "corals_spot", "corals_coral", "tanks_tank",
         "surveys_survey", "corals_waterevent", "lighting_lightchange",
         "lighting_hungfixture", "accounts_user")  # fmt: skip


def main():
    with scratch_rows():
        from tests.benchmarks.many_tanks import grow_site, lay_site

        began = time.perf_counter()
        laid = lay_site()
        pages = addresses(laid)
        small = measure(laid, pages)
        print(f"small: {counts()}")
        grow_site(laid, TANKS)
        print(f"large: {counts()}; made in {time.perf_counter() - began:.0f} s")
        tell(small, measure(laid, pages))


def counts():
    from apps.corals.models import HealthNote
    from apps.surveys.models import Reading
    from apps.tanks.models import Tank

    kinds = (("tanks", Tank), ("readings", Reading), ("notes", HealthNote))
    return ", ".join(f"{model._base_manager.count():,} {name}" for name, model in kinds)


def addresses(laid):
    """Return {page: address} of the keeper's pages: lists of all tanks, and those of one."""
    from django.urls import reverse

    from tests.benchmarks.bench_pages import LEFT_OUT
    from tests.test_every_address import ACCESS, Rows

    tank = laid.tank
    rows = Rows(tank)
    rows.by_start |= {
        "light/": lambda: tank.light_changes.first(),
        "surveys/": lambda: tank.surveys.order_by("taken_at").last(),
        "notes/": lambda: tank.corals.first().notes.first(),
    }
    rows.coral = tank.corals.order_by("pk").first()
    read = {
        name
        for name, cells in ACCESS.items()
        if cells["owner"].startswith("200") and cells["stranger"].startswith("404")
    }
    pages = {name: rows.address(name) for name in sorted(read - LEFT_OUT)}
    own = ("tank_list", "settings_edit", "deleted_list", "plan_list", "meter_list", "api-tank-list")
    return pages | {name: reverse(name) for name in own} | {"search": reverse("search") + "?q=tank"}


def measure(laid, pages):
    """Return {page: (CPU [ms], queries, whole tables read)}; 0 ms for what is not timed."""
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext

    client, told = Client(), {}
    client.force_login(laid.owner)
    for page, address in pages.items():
        if page in TIMED:
            # What is kept is warm.
            client.get(address)
        # A full log of queries would count none.
        connection.queries_log.clear()
        with CaptureQueriesContext(connection) as seen:
            status = client.get(address).status_code
        if status == 200:
            runs = RUNS if page in TIMED else 0
            took = [timed(lambda address=address: client.get(address)) for _ in range(runs)]
            tables = whole_tables(seen.captured_queries)
            told[page] = (statistics.median(took or [0.0]), len(seen), tables)
    told["a reading saved"] = (statistics.median(saving(client, laid)), 0, set())
    return told


def timed(act):
    began = time.process_time()
    act()
    return 1000 * (time.process_time() - began)


def saving(client, laid):
    """Yield what it takes to take in a reading that a device sends [ms]."""
    from django.urls import reverse

    path = reverse("survey_sync", args=[laid.tank.surveys.order_by("pk").first().pk])
    for number in range(RUNS):
        edit = {"id": str(uuid.uuid4()), "point": str(uuid.uuid4()), "sequence": number + 1,
                "revision": 1, "x_cm": 10, "y_cm": 20, "depth_cm": 5, "value_umol": 90.0,
                "spread_umol": None}  # fmt: skip
        body = json.dumps({"keeper": laid.owner.pk, "device": uuid.uuid4().hex, "edits": [edit]})
        answers = []
        yield timed(lambda body=body, answers=answers: answers.append(
            client.post(path, body, "application/json").status_code))  # fmt: skip
        assert answers == [200]


def whole_tables(queries):
    """Return the large tables that the plans of these queries read from end to end."""
    from django.db import connection

    if connection.vendor != "sqlite":
        return set()
    read = set()
    with connection.cursor() as cursor:
        for query in queries:
            if query["sql"].startswith("SELECT"):
                cursor.execute("EXPLAIN QUERY PLAN " + query["sql"].replace("%", "%%"))
                steps = [row[-1].split() for row in cursor.fetchall()]
                read |= {s[1] for s in steps if s[0] == "SCAN" and s[1] in LARGE}
    return read


def tell(small, large):
    """Print a line a page, worst first, and what is over the bound."""
    print(f"{'page':28s}{'small ms':>10s}{'large ms':>10s}{'times':>7s}{'queries':>9s}")
    order = sorted(small, key=lambda page: -large[page][0] / max(small[page][0], LEAST_MS))
    over = 0
    for page in order:
        (before, asked, _), (after, asked_now, tables) = small[page], large[page]
        if page not in (*TIMED, "a reading saved") and asked_now <= asked and not tables:
            continue
        worse = max(after, LEAST_MS) / max(before, LEAST_MS)
        is_over = worse > WORSE_MAX or asked_now > asked
        over += is_over
        words = f"  reads all of {', '.join(sorted(tables))}" if tables else ""
        print(f"{page:28s}{before:10.0f}{after:10.0f}{worse:7.2f}{asked:5d}{asked_now:4d}"
              f"{' OVER' * is_over}{words}")  # fmt: skip
    print(f"{over} of {len(order)} over")


if __name__ == "__main__":
    main()
