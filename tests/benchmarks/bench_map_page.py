"""Server time of the light map page for 60 readings: cold fit included, and warm swaps.

With the rig told, as the map is meant to be used, and with the rig to be guessed. Then of a tank
that was followed for a year, whose map rests on many surveys under rigs of their own.
"""

import statistics
import time

from tests.benchmarks.bench_history import keepers_change, laid_tank, worst_change
from tests.benchmarks.scratch import scratch_rows

READINGS = 60
ROUNDS = 15
COLD_MS_MAX, COLD_GUESSED_MS_MAX, WARM_MS_MAX = 250.0, 1000.0, 50.0
# A year's changes and days on which a tank was read, and most CPU of its map's page [ms].
CHANGES, SURVEY_DAYS = 60, (355, 320, 285, 250, 215, 180, 145, 110, 75, 20)
FOLLOWED_MS_MAX = 500.0


def main():
    with scratch_rows():
        measured = measure()
        followed = measure_followed()
    print(f"light map page, {READINGS} readings, median of {ROUNDS} (worst; CPU of all threads)")
    for title, times, most in measured:
        walls, cpus = zip(*times, strict=True)
        middle, cpu = statistics.median(walls), statistics.median(cpus)
        verdict = "within" if middle <= most else "OVER"
        print(
            f"  {title:<30}{middle:6.1f} ms ({max(walls):.1f}; {cpu:.1f})   {verdict} {most:g} ms"
        )
    print(f"{len(SURVEY_DAYS)} surveys of 45 and {CHANGES} changes, cold: ms of CPU (worst)")
    for title, cpus in followed:
        middle = statistics.median(cpus)
        verdict = "within" if middle <= FOLLOWED_MS_MAX else "OVER"
        print(f"  {title:<30}{middle:6.1f} ms ({max(cpus):.1f})   {verdict} {FOLLOWED_MS_MAX:g} ms")


def measure_followed():
    """Return (title, CPU times [ms]) of the map's page of tanks that were followed for a year."""
    rows = []
    for title, change in (("a keeper's year", keepers_change), ("every lamp moved", worst_change)):
        get = page_getter(laid_tank(CHANGES, change, SURVEY_DAYS))
        get()
        rows.append((title, [cpu for _, cpu in cold_times(get)]))
    return rows


def measure():
    """Return (title, times, most) for cold pages and warm swaps, each time (wall, CPU) [ms]."""
    found = []
    for told, cold_most in ((True, COLD_MS_MAX), (False, COLD_GUESSED_MS_MAX)):
        get = page_getter(surveyed_tank(told=told))
        get()  # Templates are compiled once a worker, not once a page.
        words = "rig told" if told else "rig guessed"
        found.append((f"page, cold fit, {words}", cold_times(get), cold_most))
        for view in ("par", "sure", "shadow"):
            found.append((f"swap, {view}, {words}", warm_times(get, view), WARM_MS_MAX))
    return found


def page_getter(tank):
    """Return a function that gets the tank's map as its owner."""
    from django.test import Client
    from django.urls import reverse

    client = Client()
    client.force_login(tank.owner)
    return lambda *args, **kwargs: client.get(reverse("light_map", args=[tank.pk]), *args, **kwargs)


def cold_times(get):
    from django.core.cache import caches

    times = []
    for _ in range(ROUNDS):
        for name in ("maps", "planes"):
            caches[name].clear()
        times.append(timed(get))
    return times


def warm_times(get, view):
    queries = [{"depth": f"{5 + 2 * i}cm", "view": view} for i in range(ROUNDS)]
    return [timed(lambda q=q: get(q, headers={"HX-Request": "true"})) for q in queries]


def surveyed_tank(*, told):
    """Return a long tank with rocks, a light change and one survey of READINGS readings.

    Two panels truly shine on it; `told` when the keeper has entered them.
    """
    import datetime as dt

    from django.utils import timezone

    from reeflog.demo_light import true_par
    from tests.factories import hang, make_light_change, make_rock, make_survey, make_tank

    tank = make_tank(length_cm=120, width_cm=60, depth_cm=50)
    for x_cm in (20, 60, 90):
        make_rock(tank, x_cm=x_cm)
    before = timezone.now() - dt.timedelta(days=60)
    change = make_light_change(tank, happened_at=before, factor=1, summary="Hung two panels")
    hung = [hang(change, x_cm=x_cm) for x_cm in (35, 85)]
    places = [
        (x, y, depth)
        for depth in (5, 15, 25, 45)
        for y in (10, 30, 50)
        for x in (10, 35, 60, 85, 110)
    ]
    assert len(places) == READINGS
    rig = [row.scene() for row in hung]
    par = true_par(
        places, tank=tank.scene(), fixtures=rig, rocks=tank.scene_rocks(), ppf_umol_s=150
    )
    readings = [(*place, round(float(value), 1)) for place, value in zip(places, par, strict=True)]
    make_survey(tank, readings=readings, taken_at=timezone.now() - dt.timedelta(days=40))
    if not told:
        change.hung.all().delete()
    make_light_change(tank)
    return tank


def timed(work):
    """Return how long a request took and its CPU time [ms]; it must have been answered."""
    start, start_cpu = time.perf_counter(), time.process_time()
    response = work()
    took = 1000 * (time.perf_counter() - start), 1000 * (time.process_time() - start_cpu)
    assert response.status_code == 200, response.status_code
    return took


if __name__ == "__main__":
    main()
