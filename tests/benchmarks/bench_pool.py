"""Pooling many simulated tanks in a fresh database: parts, nightly batch, and what it finds.

python -m tests.benchmarks.bench_pool [tanks]
"""

import io
import sys
import time

import numpy as np

from tests.benchmarks.scratch import scratch_rows
from tests.benchmarks.worlds import World, simulate

TANKS, SECONDS_MAX = 10_000, 60.0
RATIO = 2.0


def main(n_tanks=TANKS):
    with scratch_rows():
        measure(n_tanks)


def measure(n_tanks):
    from django.core.management import call_command

    from apps.outcomes.models import PooledCurve, PoolShare
    from apps.outcomes.pool.part import tank_digests
    from apps.outcomes.pool.pooling import BATCH, batched

    tanks, worlds = empty_tanks(n_tanks), simulated(n_tanks)
    begin, cpu = time.perf_counter(), time.process_time()
    digests = {}
    for batch in batched(tanks, BATCH):
        digests |= tank_digests(batch)
    shares = [
        PoolShare(tank=tank, part=part_of(notes), digest=digests[tank.pk])
        for tank, notes in zip(tanks, worlds, strict=True)
    ]
    PoolShare.objects.bulk_create(shares, batch_size=500)
    parts = time.perf_counter() - begin
    out, begin = io.StringIO(), time.perf_counter()
    call_command("pool_outcomes", stdout=out)
    batch = time.perf_counter() - begin
    found = PooledCurve.objects.get(level="all")
    print(
        f"{n_tanks} simulated tanks: parts and digests {parts:.1f} s, nightly batch {batch:.1f} s"
    )
    verdict = "within" if parts + batch <= SECONDS_MAX else "OVER"
    cpu = time.process_time() - cpu
    print(f"together {parts + batch:.1f} s ({cpu:.1f} s CPU), {verdict} {SECONDS_MAX:g} s")
    print(out.getvalue().strip())
    print(f"odds per doubling {found.ratio:.2f} ({found.low:.2f} to {found.high:.2f})")


def simulated(n_tanks):
    rng = np.random.default_rng(4)
    return [simulate(World(tanks=1, ratio=RATIO), rng) for _ in range(n_tanks)]


def part_of(notes):
    from apps.outcomes.association.events import Direction
    from apps.outcomes.pool.part import visits_part
    from apps.photics.causes.visits import Visits

    n = len(notes.day)
    return visits_part(
        Direction.LIGHTER,
        Visits(
            coral=notes.coral,
            day=notes.day.astype(float),
            light=notes.dli_mol,
            event=notes.event.astype(float),
            severity=notes.event.astype(float),
            water_event=np.zeros(n),
            group=np.where(notes.coral % 2 == 0, "sps", "lps"),
            genus=np.repeat("", n),
            by_par=False,
            without_light=0,
        ),
    )


def empty_tanks(n_tanks):
    """Return saved tanks of as many keepers; what was noted in them is simulated."""
    from apps.accounts.models import User
    from apps.tanks.models import Tank

    users = User.objects.bulk_create(
        [User(email=f"keeper{k}@example.org") for k in range(n_tanks)], batch_size=500
    )
    box = {"name": "Simulated", "length_cm": 60, "width_cm": 60, "depth_cm": 50}
    Tank.objects.bulk_create([Tank(owner=user, **box) for user in users], batch_size=500)
    return list(Tank.objects.order_by("pk"))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else TANKS)
