"""A federation's processes on one core and on two: what a second of their CPU answers.

    python -m tests.benchmarks.bench_cluster [KEEPERS [SECONDS]]

Four serving workers and two of Celery's, over a PostgreSQL and a Redis of the run's own, each asked
by so many keepers who never think. First all of them share one core and the asking has the other,
then both cores are everybody's. Counted is the CPU time of the app's own processes alone. The goal
was that a second on two cores answers at least 0.8 of what one on a single core does.
"""

import os
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

from tests.benchmarks.scratch import run_on_postgres, scratch_rows

KEEPERS, SECONDS, WEB, CELERY = 12, 40, 4, 2
TICKS = os.sysconf("SC_CLK_TCK")
GOAL = 0.8


def main(words=None):
    words = sys.argv[1:] if words is None else words
    if (os.cpu_count() or 1) < 2:
        print("left out: needs two cores")
        return
    run_on_postgres("tests.benchmarks.bench_cluster", ["inside", *words])


def inside(words):
    """Ask first on one core, then on two; print both."""
    keepers, seconds = (int(w) for w in (words + [str(KEEPERS), str(SECONDS)][len(words) :]))
    with scratch_rows() as folder:
        from tests.benchmarks.bench_load import Keeper

        people = [Keeper(n) for n in range(keepers)]
        print(f"{WEB} workers, {CELERY} of Celery's, {keepers} keepers, {seconds} s each")
        one = answered(folder / "one", people, seconds, cores={0})
        two = answered(folder / "two", people, seconds, cores={0, 1})
        print(f"  two cores against one: {two / one:.2f} (goal {GOAL})")


def answered(folder, people, seconds, cores):
    """Serve on some cores, ask, print and return requests per CPU second of the app's own."""
    from tests.benchmarks import bench_load
    from tests.hosting.test_redis import Redis
    from tests.serving import ServedApp

    folder.mkdir()
    redis = Redis(folder)
    told = {"REEFLOG_JOBS": "celery", "REEFLOG_CELERY_BROKER": redis.url}
    app = ServedApp(folder / "served", workers=WEB, **told)
    try:
        with celery_workers(app) as celery:
            roots = [app.process.pid, celery.pid]
            pin(roots, cores)
            before = cpu_seconds(roots)
            ledger = bench_load.run(app, people, seconds, think_s=(0.0, 0.0))
            spent = cpu_seconds(roots) - before
    finally:
        app.close()
        redis.kill()
    count = sum(len(times) for times in ledger.seconds.values())
    print(
        f"  {len(cores)} core(s): {count} requests, {len(ledger.errors)} errors, {spent:.1f} s of "
        f"CPU: {count / spent:.1f} requests a CPU second, {count / seconds:.1f} a second"
    )
    return count / spent


@contextmanager
def celery_workers(app):
    """Let Celery's workers work over what the app serves; killed with all their processes."""
    words = ["-A", "reeflog", "worker", "--concurrency", str(CELERY), "-l", "WARNING"]
    with Path(app.folder / "celery.log").open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "celery", *words],
            env=app.environment,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
    try:
        # Its own processes are there before they are pinned.
        time.sleep(10)
        yield process
    finally:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()


def family(roots):
    """Return the processes of some roots, children and their children, as /proc tells them."""
    parents = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            parents[int(folder.name)] = int(fields_of(int(folder.name))[1])
        except OSError:
            continue
    there = set(roots)
    while more := {pid for pid, parent in parents.items() if parent in there} - there:
        there |= more
    return there


def fields_of(pid):
    """Return the fields of /proc/PID/stat after the program's name (proc(5))."""
    return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()


def pin(roots, cores):
    """Hold all threads of some processes to cores; what they start later inherits it."""
    for pid in family(roots):
        for thread in Path(f"/proc/{pid}/task").iterdir():
            os.sched_setaffinity(int(thread.name), cores)


def cpu_seconds(roots):
    """Return what processes took so far [s]: theirs, and that of children who ended."""
    return sum(sum(int(n) for n in fields_of(pid)[11:15]) for pid in family(roots)) / TICKS


if __name__ == "__main__":
    if sys.argv[1:2] == ["inside"]:
        inside(sys.argv[2:])
    else:
        main()
