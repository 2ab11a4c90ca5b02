"""Server time of the coral pages: a coral with three years of weekly notes, a list of 40 corals."""

import datetime as dt
import statistics
import time

from tests.benchmarks.scratch import scratch_rows

YEARS, CORALS, ROUNDS = 3, 40, 9
PAGE_MS_MAX = 400.0


def main():
    with scratch_rows():
        measured = measure()
    print(f"{CORALS} corals, weekly notes and water tests for {YEARS} years, median of {ROUNDS}")
    for title, times in measured:
        middle = statistics.median(times)
        verdict = "within" if middle <= PAGE_MS_MAX else "OVER"
        print(
            f"  {title:<24}{middle:7.1f} ms (worst {max(times):.1f})   {verdict} {PAGE_MS_MAX:g} ms"
        )


def measure():
    """Return (title, times [ms]) of each page, the first call (cold map, templates) left out."""
    from django.test import Client
    from django.urls import reverse

    tank = laid_tank()
    client = Client()
    client.force_login(tank.owner)
    pages = {
        "coral with its timeline": reverse("coral_detail", args=[tank.corals.first().pk]),
        "list of corals": reverse("coral_list", args=[tank.pk]),
        "tank wall": reverse("coral_wall", args=[tank.pk]),
        "notes round": reverse("coral_round", args=[tank.pk]),
    }
    found = []
    for title, url in pages.items():
        times = [timed(client, url) for _ in range(ROUNDS + 1)]
        found.append((title, times[1:]))
    return found


def timed(client, url):
    start = time.perf_counter()
    answer = client.get(url)
    assert answer.status_code == 200, url
    return 1000.0 * (time.perf_counter() - start)


def laid_tank():
    """Make a surveyed tank of corals with years of notes, light changes, moves and readings."""
    from django.utils import timezone

    from apps.corals.models import HealthNote, Photo, Spot, WaterEvent
    from tests.factories import make_coral, make_light_change, make_lit_survey, make_tank

    tank, now = make_tank(), timezone.now()
    weeks = 52 * YEARS
    start = tank.today() - dt.timedelta(weeks=weeks)
    for months in range(0, 12 * YEARS, 3):
        day = now - dt.timedelta(days=30 * (12 * YEARS - months))
        make_light_change(tank, factor=0.95 if months % 2 else 1.05, happened_at=day)
    for days in (300, 30):
        make_lit_survey(tank, taken_at=now - dt.timedelta(days=days))
    corals = [
        make_coral(tank, name=f"Coral {i}", at_cm=(2 + 1.4 * i, 30, 20), since=start)
        for i in range(CORALS)
    ]
    Spot.objects.bulk_create(
        Spot(coral=coral, x_cm=30, y_cm=20, depth_cm=15, since=start + dt.timedelta(days=90 * n))
        for coral in corals[:1]
        for n in range(1, 9)
    )
    seen = [HealthNote.Seen.WELL] * 9 + [HealthNote.Seen.PALING]
    notes = HealthNote.objects.bulk_create(
        HealthNote(
            coral=coral,
            noted_on=start + dt.timedelta(weeks=week),
            seen=seen[week % 10],
            condition=4 + week % 2,
        )
        for coral in corals
        for week in range(weeks)
    )
    # The pages name photos, they do not open them.
    Photo.objects.bulk_create(
        Photo(note=note, image="none.jpg", thumbnail="none.jpg") for note in notes[::4]
    )
    WaterEvent.objects.bulk_create(
        WaterEvent(
            tank=tank,
            happened_at=now - dt.timedelta(weeks=week),
            kind=WaterEvent.Kind.ALKALINITY,
            value=8.0,
            unit="dKH",
        )
        for week in range(weeks)
    )
    return tank


if __name__ == "__main__":
    main()
