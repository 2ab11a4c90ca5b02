"""So many keepers at once against the served app: how long they wait, and what became of entries.

    python -m tests.benchmarks.bench_load [KEEPERS [SECONDS]]

On SQLite, then on a PostgreSQL of the run's own; on the one alone that DATABASE_URL names.
Each keeper has a tank of their own, thinks 3 to 10 s, and looks at the map, the tank, a coral, the
cases or a shared map, or saves readings and notes. Gunicorn as deployed, with two workers, on
this machine, debug off, asked over the loopback alone; JOBS=thread lets what a save calls for run
behind the pages, as it does on a host by default. As `start.sh` does, the light of all tanks is
fitted first, since a site's tanks are there when it starts; COLD=on leaves that to their pages.
What was acknowledged stands in a ledger outside of the server and is counted against the rows.
"""

import datetime as dt
import json
import os
import random
import subprocess
import sys
import threading
import time
import uuid
from dataclasses import dataclass, field
from urllib.parse import urlencode

from tests.benchmarks.scratch import run_on_postgres, scratch_rows

KEEPERS, SECONDS, SEED = 200, 300, 19
THINK_S = (3.0, 10.0)
# What a keeper does next, and how often of a hundred.
MIX = {
    "map": 20,
    "depth": 10,
    "tank": 15,
    "coral": 10,
    "cases": 5,
    "share": 10,
    "reading": 25,
    "note": 5,
}
SAVES = {"reading", "note"}
# Over how long the pages' wait is told anew [s]: at the start no page has been made.
SLICE_S = 30
IS_COLD = os.environ.get("COLD") == "on"
DEPTHS_CM = (5, 10, 15, 20, 25, 30, 35, 40)


@dataclass
class Ledger:
    """What each kind of request took [s], what was acknowledged, and what went wrong."""

    seconds: dict[str, list[float]] = field(default_factory=dict)
    # When each page was asked for [s since the start], and what it took [s].
    pages: list[tuple[float, float]] = field(default_factory=list)
    readings: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    began: float = field(default_factory=time.perf_counter)
    # What asking itself took of the cores that the app shares with it [s].
    asking_s: float = 0.0


def main(words=None):
    words = sys.argv[1:] if words is None else words
    measure(words)
    if "DATABASE_URL" not in os.environ:
        run_on_postgres("tests.benchmarks.bench_load", words)


def measure(words):
    """Let keepers at the app over the database that settings name, and print what came of it."""
    keepers, seconds = (int(w) for w in (words + [str(KEEPERS), str(SECONDS)][len(words) :]))
    with scratch_rows() as folder:
        from tests.serving import ROOT, ServedApp

        people = [Keeper(n) for n in range(keepers)]
        app = ServedApp(folder / "served", REEFLOG_JOBS=os.environ.get("JOBS", "thread"))
        try:
            if not IS_COLD:
                fit = [sys.executable, "manage.py", "warm_fields"]
                subprocess.run(fit, cwd=ROOT, env=app.environment, check=True)
            ledger = run(app, people, seconds)
        finally:
            app.close()
        tell(ledger, keepers, seconds)


class Keeper:
    """One keeper with a tank that has what pages show, and the addresses they ask for."""

    def __init__(self, number):
        from django.urls import reverse

        from apps.sharing.models import ShareLink
        from tests.factories import (
            make_coral,
            make_lit_survey,
            make_note,
            make_survey,
            make_tank,
            make_user,
        )
        from tests.test_every_address import link_of

        self.owner = make_user(email=f"keeper{number}@example.org")
        tank = make_tank(self.owner)
        # No two lamps are alike, so that no keeper's map serves another.
        survey = make_lit_survey(tank, ppf_umol_s=100.0 + 0.1 * number)
        rows = survey.readings.values_list("x_cm", "y_cm", "depth_cm", "value_umol")
        self.places = list(rows)
        corals = [make_coral(tank, name=f"Coral {n}") for n in range(6)]
        for coral in corals:
            for days in (40, 20, 6):
                make_note(coral, noted_on=tank.today() - dt.timedelta(days=days))
        self.tank, self.coral = tank, corals[0]
        self.entered = make_survey(tank, readings=[])
        link = link_of(ShareLink, tank=tank)
        token = link.renew_token()
        link.save()
        light_map = reverse("light_map", args=[tank.pk])
        self.pages = {
            "map": light_map,
            "tank": reverse("tank_detail", args=[tank.pk]),
            "coral": reverse("coral_detail", args=[corals[1].pk]),
            "cases": reverse("outcome_list", args=[tank.pk]),
            "share": reverse("shared_map", args=[token]),
        }
        self.sync = reverse("survey_sync", args=[self.entered.pk])
        self.note = reverse("note_new", args=[self.coral.pk])

    def go(self, visitor, ledger, until, think_s):
        """Ask as a Visitor, think so long [s] and ask again until the moment is over."""
        chance = random.Random(f"{SEED} {self.owner.pk}")
        time.sleep(chance.uniform(0, think_s[1]))
        number = 0
        while time.monotonic() < until:
            (kind,) = chance.choices(list(MIX), weights=MIX.values())
            number += 1
            started = time.perf_counter()
            try:
                problem = self.ask(visitor, kind, chance, number, ledger)
            except OSError as cut:
                problem = repr(cut)
            took = time.perf_counter() - started
            ledger.seconds.setdefault(kind, []).append(took)
            if kind not in SAVES:
                ledger.pages.append((started - ledger.began, took))
            if problem:
                ledger.errors.append(f"{kind}: {problem}")
            time.sleep(chance.uniform(*think_s))

    def ask(self, visitor, kind, chance, number, ledger):
        """Make one request; return what went wrong, or nothing."""
        if kind == "reading":
            return self.save_reading(visitor, chance, number, ledger)
        if kind == "note":
            return self.save_note(visitor, ledger)
        path = self.pages.get(kind) or self.pages["map"]
        if kind == "depth":
            path += f"?depth={chance.choice(DEPTHS_CM)}"
        status, _, text = visitor.ask("GET", path)
        return "" if status == 200 else f"{status} {text[:80]}"

    def save_reading(self, visitor, chance, number, ledger):
        """Enter what a meter reads, within some %, where the first survey read."""
        x_cm, y_cm, depth_cm, par_umol = self.places[number % len(self.places)]
        edit = {
            "id": str(uuid.uuid4()), "point": str(uuid.uuid4()), "sequence": number, "revision": 1,
            "x_cm": x_cm, "y_cm": y_cm, "depth_cm": depth_cm,
            "value_umol": round(par_umol * chance.gauss(1.0, 0.04), 1), "spread_umol": None,
        }  # fmt: skip
        body = json.dumps({"keeper": self.owner.pk, "device": "phone", "edits": [edit]})
        status, _, text = visitor.ask("POST", self.sync, body, "application/json")
        if status != 200 or edit["id"] not in json.loads(text)["accepted"]:
            return f"{status} {text[:80]}"
        ledger.readings.append(edit["point"])
        return ""

    def save_note(self, visitor, ledger):
        """Note what is seen of a coral today, in words that no other note has."""
        words = str(uuid.uuid4())
        sent = {"seen": "well", "strength": 2, "noted_on": self.tank.today(), "text": words}
        status, _, text = visitor.ask("POST", self.note, urlencode(sent))
        if status != 302:
            return f"{status} {text[:80]}"
        ledger.notes.append(words)
        return ""


def run(app, people, seconds, think_s=THINK_S):
    """Let all keepers at the app at once, each of whom thinks so long [s]; return the Ledger."""
    from tests.test_served import Visitor

    # Signed in one after the other: as many lines at once as keepers a PostgreSQL does not hold.
    visitors = [Visitor(app, keeper.owner) for keeper in people]
    ledger, until, cpu_s = Ledger(), time.monotonic() + seconds, time.process_time()
    threads = [
        threading.Thread(target=keeper.go, args=(visitor, ledger, until, think_s))
        for keeper, visitor in zip(people, visitors, strict=True)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    ledger.asking_s = time.process_time() - cpu_s
    return ledger


def tell(ledger, keepers, seconds):
    """Print how long keepers waited, and the rows against the ledger."""
    from django.db import connection

    from apps.corals.models import HealthNote
    from apps.surveys.models import Reading

    start = "nothing kept at the start" if IS_COLD else "light fitted at the start"
    print(f"{keepers} keepers for {seconds} s, two workers, {connection.vendor}, {start};")
    print("seconds until the answer was whole")
    print(f"  {'what':10s}{'asked':>7s}{'median':>8s}{'p95':>8s}{'worst':>8s}")
    rows = {**dict(sorted(ledger.seconds.items())), "all pages": [t for _, t in ledger.pages]}
    for begin_s in range(0, seconds, SLICE_S):
        times = [t for began, t in ledger.pages if begin_s <= began < begin_s + SLICE_S]
        rows[f"from {begin_s} s"] = times
    for kind, times in rows.items():
        times = sorted(times) or [0.0]
        p95 = times[int(0.95 * (len(times) - 1))]
        print(f"  {kind:10s}{len(times):7d}{times[len(times) // 2]:8.3f}{p95:8.3f}{times[-1]:8.3f}")
    print(f"  {len(ledger.errors)} errors; asking took {ledger.asking_s:.0f} s of the cores' time")
    saved = {
        "readings": (ledger.readings, Reading.objects.values_list("client_id", flat=True)),
        "notes": (ledger.notes, HealthNote.objects.exclude(text="").values_list("text", flat=True)),
    }
    for name, (heard, rows) in saved.items():
        there = [str(row) for row in rows]
        print(
            f"  {len(heard)} {name} acknowledged, {len(set(heard) - set(there))} lost, "
            f"{len(there) - len(set(there))} doubled"
        )
    for problem in ledger.errors[:5]:
        print(f"    {problem}")


if __name__ == "__main__":
    main()
