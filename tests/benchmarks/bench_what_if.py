"""Server time of one step of a what-if drag, rendering included: a small, a usual, a large tank."""

import statistics
import time

from tests.benchmarks.scratch import scratch_rows

STEPS = 40
STEP_MS_MAX = 100.0
# Length, width, depth [cm], fixtures, corals.
CASES = ((60, 60, 50, 1, 8), (120, 60, 55, 2, 20), (180, 60, 60, 6, 40))


def main():
    with scratch_rows():
        measured = [(case, drag_times(*case)) for case in CASES]
    print(f"one step of a what-if drag, median of {STEPS} (worst; CPU), rendering included")
    for (length, width, depth, fixtures, corals), times in measured:
        walls, cpus = zip(*times, strict=True)
        middle = statistics.median(walls)
        verdict = "within" if middle <= STEP_MS_MAX else "OVER"
        cpu = statistics.median(cpus)
        print(
            f"  {length}x{width}x{depth} cm, {fixtures} fixtures, {corals} corals"
            f"{middle:8.1f} ms ({max(walls):.1f}; {cpu:.1f})"
            f"   {verdict} {STEP_MS_MAX:g} ms"
        )


def drag_times(length_cm, width_cm, depth_cm, fixtures, corals):
    """Return (wall, CPU) [ms] of steps along the tank after the first, which fits the map."""
    from django.test import Client
    from django.urls import reverse

    tank, rows = laid_tank(length_cm, width_cm, depth_cm, fixtures, corals)
    client = Client()
    client.force_login(tank.owner)
    address, times = reverse("what_if", args=[tank.pk]), []
    for step in range(STEPS + 1):
        rows[0]["x_cm"] = length_cm * (0.1 + 0.5 * step / STEPS)
        wall, cpu = time.perf_counter(), time.process_time()
        answer = client.get(address, query_of(rows), headers={"HX-Request": "true"})
        spent = time.perf_counter() - wall, time.process_time() - cpu
        times.append(tuple(1000.0 * seconds for seconds in spent))
        assert answer.status_code == 200, answer.content.decode()
    return times[1:]


def query_of(rows):
    from apps.lighting.change.address import rows_query

    return rows_query(rows, "cm")


def laid_tank(length_cm, width_cm, depth_cm, fixtures, corals):
    """Make a surveyed tank with rock, fixtures and corals; return it and its rows as dicts."""
    from apps.lighting.change.address import typed_of
    from reeflog.demo_light import true_par
    from tests import factories

    tank = factories.make_tank(length_cm=length_cm, width_cm=width_cm, depth_cm=depth_cm)
    factories.make_rock(tank)
    change = factories.make_light_change(tank, factor=1)
    panel = factories.make_fixture(tank.owner)
    rows = [
        factories.hang(change, panel, x_cm=length_cm * (k + 0.5) / fixtures)
        for k in range(fixtures)
    ]
    places = [row[:3] for row in factories.grid_readings(tank)]
    scenes = [row.scene() for row in rows]
    par = true_par(places, tank=tank.scene(), fixtures=scenes, ppf_umol_s=120.0)
    readings = [(*place, float(value)) for place, value in zip(places, par, strict=True)]
    factories.make_survey(tank, readings=readings)
    for k in range(corals):
        share = (k + 0.5) / corals
        at_cm = (length_cm * share, width_cm * (k % 5 + 0.5) / 5, depth_cm * (k % 3 + 0.5) / 3)
        factories.make_coral(tank, name=f"Coral {k}", at_cm=at_cm)
    return tank, [typed_of(row) for row in rows]


if __name__ == "__main__":
    main()
