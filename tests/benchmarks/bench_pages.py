"""Every page of the three tanks: seconds of CPU cold, in another worker and warm, and memory.

    python -m tests.benchmarks.bench_pages [ordinary|middling|heavy ...] [--only NAME ...]

Each page is opened by its owner in processes of its own, forked before anything was worked out:
cold (nothing kept anywhere), then again in the same one (warm), then in a fresh one that finds only
what is kept for all workers (another). CPU seconds of the process, so that other load says
nothing; memory is the most that the cold process ever held.
"""

import json
import os
import resource
import signal
import sys
import tempfile
import time

CHILD_S_MAX = 600
GOALS = {"ordinary": (0.6, 400), "middling": (0.6, 400), "heavy": (5.0, 400)}
# A share page after somebody has opened any page of its tank, in a worker that never did [s].
SHARED_S_MAX = 1.0
# Pages of what a tank's size does not touch, or whose search for a layout is timed on its own.
LEFT_OUT = {"layout_detail", "layout_answer", "photo_show", "colour_answer", "photo_detail"}


def main(words=None):
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
    import django

    django.setup()
    words = sys.argv[1:] if words is None else words
    cut = words.index("--only") if "--only" in words else len(words)
    only = set(words[cut + 1 :])
    for which in words[:cut] or GOALS:
        with tempfile.TemporaryDirectory() as folder:
            tell_tank(which, only, folder)


def tell_tank(which, only, folder):
    """Print a line for each page of one tank."""
    from django.conf import settings
    from django.db import connection
    from django.test.utils import setup_test_environment, teardown_test_environment

    setup_test_environment()
    name = connection.settings_dict["NAME"]
    connection.settings_dict["TEST"]["NAME"] = os.path.join(folder, "pages.sqlite3")
    settings.MEDIA_ROOT = os.path.join(folder, "photos")
    settings.KEPT_DIR = os.path.join(folder, "kept")
    connection.creation.create_test_db(verbosity=0, serialize=False)
    load_app()
    connection.close()
    try:
        started = time.perf_counter()
        pages, shared = in_child(lambda: laid(which))
        print(f"\n{which}: made in {time.perf_counter() - started:.1f} s; CPU seconds of a page")
        print(f"  {'page':28s}{'cold':>7s}{'another':>9s}{'warm':>7s}{'MB':>6s}{'kB sent':>9s}")
        for page, address in pages.items():
            if not only or page in only:
                tell_page(which, page, address)
        if not only or "shared_map" in only:
            tell_shared(which, pages["light_map"], shared)
    finally:
        connection.creation.destroy_test_db(name, verbosity=0)
        teardown_test_environment()


def load_app():
    """Load all views and the front page: a worker's start is no page's cost."""
    from django.test import Client
    from django.urls import get_resolver

    get_resolver().url_patterns  # noqa: B018  Asking for them imports every view.
    Client().get("/")


def laid(which):
    """Make one of the three tanks; return {page: address} of it, and its share page's address."""
    from django.urls import reverse

    from apps.sharing.models import ShareLink
    from tests.benchmarks.three_tanks import THREE
    from tests.factories import make_user
    from tests.test_every_address import ACCESS, Rows, link_of

    tank = THREE[which](make_user(email="pages@example.org"))
    rows = Rows(tank)
    rows.by_start |= {
        "light/": lambda: tank.light_changes.first(),
        "surveys/": lambda: tank.surveys.order_by("taken_at").last(),
        "notes/": lambda: tank.corals.first().notes.first(),
    }
    rows.coral = tank.corals.order_by("pk").first()
    pages = {}
    read = {
        name for name, cells in ACCESS.items()
        if cells["viewer"].startswith("200") and cells["stranger"].startswith("404")
    }  # fmt: skip
    for page in sorted((read | {"tank_export"}) - LEFT_OUT):
        pages[page] = rows.address(page)
    link = ShareLink(tank=tank, expires_at=link_of(ShareLink, tank=tank).expires_at)
    token = link.renew_token()
    link.show_corals = True
    link.save()
    return pages, reverse("shared_map", args=[token])


def tell_page(which, page, address):
    """Print what one page takes."""
    forget_all()
    cold, warm, megabytes, sent, status = in_child(lambda: asked(address, again=True))
    another = in_child(lambda: asked(address))[0]
    seconds_max, megabytes_max = GOALS[which]
    over = " OVER" * (cold > seconds_max or megabytes > megabytes_max)
    over += f" status {status}" * (status != 200)
    times = f"{cold:7.2f}{another:9.2f}{warm:7.2f}"
    print(f"  {page:28s}{times}{megabytes:6.0f}{sent / 1e3:9.0f}{over}", flush=True)


def tell_shared(which, first, shared):
    """Print what a share page takes after one visit to the light map in another process."""
    forget_all()
    in_child(lambda: asked(first))
    cold, warm, megabytes, sent, status = in_child(
        lambda: asked(shared, again=True, signed_in=False)
    )
    over = " OVER" * (cold > SHARED_S_MAX) + f" status {status}" * (status != 200)
    print(
        f"  {'share page, after a visit':28s}{'':7s}{cold:9.2f}{warm:7.2f}"
        f"{megabytes:6.0f}{sent / 1e3:9.0f}{over}"
    )


def asked(address, *, again=False, signed_in=True):
    """Ask for a page once or twice; return CPU [s] of each, most memory [MB], bytes, status."""
    from django.test import Client

    from apps.accounts.models import User

    client = Client()
    if signed_in:
        client.force_login(User.objects.get(email="pages@example.org"))
    times = []
    for _ in range(1 + again):
        start = time.process_time()
        answer = client.get(address)
        body = b"".join(answer.streaming_content) if answer.streaming else answer.content
        times.append(time.process_time() - start)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return times[0], times[-1], most, len(body), answer.status_code


def forget_all():
    """Empty what is kept for all workers."""
    import shutil

    from django.conf import settings
    from django.core.cache import caches

    for name in ("maps", "planes"):
        caches[name].clear()
    shutil.rmtree(settings.KEPT_DIR, ignore_errors=True)


def in_child(work):
    """Return work() of a forked process, as JSON brings it back; fails as it fails."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        signal.alarm(CHILD_S_MAX)
        code = 1
        try:
            answer = json.dumps(work()).encode()
            with os.fdopen(writer, "wb") as out:
                out.write(answer)
            code = 0
        finally:
            os._exit(code)
    os.close(writer)
    with os.fdopen(reader, "rb") as told:
        answer = told.read()
    _, status = os.waitpid(child, 0)
    if status:
        raise SystemExit("A page's process failed.")
    return json.loads(answer)


if __name__ == "__main__":
    main()
