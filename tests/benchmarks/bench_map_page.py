"""Server time of the light map page for 60 readings: cold fit included, and a warm depth swap."""

import os
import statistics
import time

import django

READINGS = 60
ROUNDS = 15
COLD_MS_MAX, WARM_MS_MAX = 250.0, 50.0


def main():
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
    django.setup()
    from django.db import connection
    from django.test.utils import setup_test_environment, teardown_test_environment

    setup_test_environment()
    name = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0, serialize=False)
    try:
        cold, warm = measure()
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)
        teardown_test_environment()
    print(f"light map page, {READINGS} readings, median of {ROUNDS} (worst; CPU of all threads)")
    for title, times, most in (
        ("page, cold fit included", cold, COLD_MS_MAX),
        ("depth swap, warm", warm, WARM_MS_MAX),
    ):
        walls, cpus = zip(*times, strict=True)
        middle, cpu = statistics.median(walls), statistics.median(cpus)
        verdict = "within" if middle <= most else "OVER"
        print(
            f"  {title:<26}{middle:6.1f} ms ({max(walls):.1f}; {cpu:.1f})   {verdict} {most:g} ms"
        )


def measure():
    """Return the times of cold pages and of warm swaps, each (wall, CPU) [ms]."""
    from django.core.cache import caches
    from django.test import Client
    from django.urls import reverse

    tank = laid_tank()
    client = Client()
    client.force_login(tank.owner)
    address = reverse("light_map", args=[tank.pk])
    client.get(address)  # Templates are compiled once a worker, not once a page.
    cold, warm = [], []
    for _ in range(ROUNDS):
        caches["maps"].clear()
        cold.append(timed(lambda: client.get(address)))
    for i in range(ROUNDS):
        query = {"depth": f"{5 + 2 * i}cm"}
        warm.append(timed(lambda q=query: client.get(address, q, headers={"HX-Request": "true"})))
    return cold, warm


def laid_tank():
    """Return a long tank with rocks, a light change and one survey of READINGS readings."""
    import datetime as dt

    from django.utils import timezone

    from tests.factories import make_light_change, make_rock, make_survey, make_tank

    tank = make_tank(length_cm=120, width_cm=60, depth_cm=50)
    for x_cm in (20, 60, 90):
        make_rock(tank, x_cm=x_cm)
    readings = [
        (x, y, depth, round(400 * 0.97**depth * (1 - ((x - 60) / 100) ** 2) + y / 2, 1))
        for depth in (5, 15, 25, 45)
        for y in (10, 30, 50)
        for x in (10, 35, 60, 85, 110)
    ]
    assert len(readings) == READINGS
    make_survey(tank, readings=readings, taken_at=timezone.now() - dt.timedelta(days=40))
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
