"""A year of light changes over sixty corals: all their history cold, and a coral's page.

Two worlds: a keeper's year (levels, hours, cleanings, now and then a lamp moved or another lens)
and the worst case, where every change moves every lamp.
"""

import statistics
import time

from tests.benchmarks.scratch import scratch_rows

CHANGES, CORALS = (30, 60, 120, 240), 60
SURVEY_DAYS = (350, 170)
MEASURED = 120
ROUNDS = 5
HISTORY_MS_MAX, PAGE_MS_MAX = 300.0, 400.0


def main():
    with scratch_rows():
        for title, row in (("a keeper's year", keepers_change), ("every lamp moved", worst_change)):
            print(f"{title}, {CORALS} corals, median of {ROUNDS} (worst) ms of CPU")
            for many in CHANGES:
                tell(many, *measure(many, row))


def tell(many, history, page, counted):
    """Print one line of the table."""
    verdict = ""
    if many == MEASURED:
        within = statistics.median(history) <= HISTORY_MS_MAX
        within = within and statistics.median(page) <= PAGE_MS_MAX
        verdict = "within" if within else "OVER"
        verdict += f" {HISTORY_MS_MAX:g} / {PAGE_MS_MAX:g} ms"
    middles = statistics.median(history), statistics.median(page)
    print(
        f"  {many:4d} changes: history of all {middles[0]:7.1f} ({max(history):.1f})"
        f"   coral's page {middles[1]:7.1f} ({max(page):.1f})   {counted} lights   {verdict}"
    )


def measure(many, change_row):
    """Return times of the whole history and of a coral's page [ms], and the lights counted.

    CPU time of one thread: what the clock shows where nothing else runs.
    """
    from django.core.cache import caches
    from django.test import Client
    from django.urls import reverse

    tank = laid_tank(many, change_row)
    client = Client()
    client.force_login(tank.owner)
    url = reverse("coral_detail", args=[tank.corals.first().pk])
    client.get(url)
    history, page, counted = [], [], 0
    for _ in range(ROUNDS):
        caches["maps"].clear()
        start = time.process_time()
        counted = whole_history(tank)
        history.append(1000 * (time.process_time() - start))
        caches["maps"].clear()
        start = time.process_time()
        assert client.get(url).status_code == 200
        page.append(1000 * (time.process_time() - start))
    return history, page, counted


def whole_history(tank):
    """Work out every coral's light on every day it changed; return how many lights that is."""
    import datetime as dt

    from django.utils import timezone

    from apps.lightmap.lightmap import tank_light

    light = tank_light(tank)
    spots = [
        (spot.x_cm, spot.y_cm, spot.depth_cm)
        for coral in tank.corals.prefetch_related("spots")
        for spot in coral.spots.all()
    ]
    now = timezone.now()
    moments = light.steps_between(now - dt.timedelta(days=370), now)
    return sum(len(light.at(spots, moment)) for moment in moments)


def laid_tank(many, change_row, survey_days=SURVEY_DAYS):
    """Return a tank with two panels, sixty corals, a year of changes and surveys days ago."""
    import datetime as dt

    import numpy as np
    from django.utils import timezone

    from reeflog.demo_light import true_par
    from tests.factories import (
        hang,
        make_coral,
        make_fixture,
        make_light_change,
        make_survey,
        make_tank,
    )

    rng = np.random.default_rng(7)
    tank = make_tank(length_cm=120, width_cm=60, depth_cm=50)
    panel = make_fixture(tank.owner)
    now = timezone.now()
    rig = [{"x_cm": x, "height_cm": 20.0, "level_percent": 80.0} for x in (35.0, 85.0)]
    for n in range(many):
        words, change, told = change_row(n, rig, rng)
        at = now - dt.timedelta(days=365 * (1 - n / many))
        row = make_light_change(tank, happened_at=at, summary=words, **({"factor": 1} | change))
        rig = told or rig
        for settings in rig if n == 0 or told else ():
            hang(row, panel, **settings)
    places = [(x, y, z) for z in (8, 22, 40) for y in (12, 30, 48) for x in (15, 40, 65, 90, 108)]
    for days in survey_days:
        scenes = [h.scene() for h in rig_then(tank, now - dt.timedelta(days=days))]
        par = true_par(places, tank=tank.scene(), fixtures=scenes, ppf_umol_s=150)
        rows = [(*p, round(float(v), 1)) for p, v in zip(places, par, strict=True)]
        make_survey(tank, readings=rows, taken_at=now - dt.timedelta(days=days))
    for n in range(CORALS):
        at = tuple(rng.uniform((5, 5, 5), (115, 55, 45)).round(1))
        make_coral(tank, name=f"Frag {n}", at_cm=at, since=tank.today() - dt.timedelta(days=360))
    return tank


def rig_then(tank, moment):
    from apps.lighting.rig import rig_in_force

    return rig_in_force(tank, moment)


def keepers_change(n, rig, rng):
    """Return words, fields and the rig (None: not told) of the n-th change of a usual year."""
    if n % 10 == 4:
        return "Wiped the panels", {"factor": 1.03, "reason": "cleaned"}, None
    if n % 10 == 7:
        return "Longer day", {"reason": "hours", "day_hours": 9 + n % 3}, None
    changed = [dict(lamp) for lamp in rig]
    if n % 10 == 1:
        changed[n % 2]["height_cm"] = round(rng.uniform(16, 34), 1)
        return "Moved one lamp", {}, changed
    for lamp in changed:
        lamp["level_percent"] = round(rng.uniform(40, 100))
    return "Turned the levels", {}, changed


def worst_change(n, rig, rng):
    """Return a change that moves every lamp."""
    changed = [lamp | {"height_cm": round(rng.uniform(16, 34), 2)} for lamp in rig]
    return "Moved all", {}, changed


if __name__ == "__main__":
    main()
