"""Take a picture of every main screen and say how much there is to look at.

    python -m tests.screens [FOLDER] [--only NAME ...]

An empty tank, the demo and a tank that was kept for years, each on a phone and a desk, light and
dark, and on paper. The pictures go to test-results/screens, which git leaves out, or to FOLDER.
"""

import argparse
import os
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PHONE, DESK, PAPER = (390, 844), (1280, 900), (718, 1047)
# A picture's name, its size, its colours and its medium.
LOOKS = (
    ("phone-light", PHONE, "light", "screen"),
    ("phone-dark", PHONE, "dark", "screen"),
    ("desk-light", DESK, "light", "screen"),
    ("desk-dark", DESK, "dark", "screen"),
    ("print", PAPER, "light", "print"),
)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path, nargs="?", default=ROOT / "test-results" / "screens")
    parser.add_argument("--only", nargs="+", default=[], help="names of screens, such as map")
    told = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
    # Playwright runs an event loop in this thread.
    os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
    import django

    django.setup()
    with tempfile.TemporaryDirectory() as scratch:
        take_all(told.folder, set(told.only), Path(scratch))


def take_all(folder, only, scratch):
    """Serve a database of its own and take the pictures."""
    from django.conf import settings
    from django.db import connection
    from playwright.sync_api import sync_playwright

    from tests.serving import ServedApp

    name = connection.settings_dict["NAME"]
    connection.settings_dict["TEST"]["NAME"] = str(scratch / "screens.sqlite3")
    connection.creation.create_test_db(verbosity=0, serialize=False)
    settings.MEDIA_ROOT = scratch / "photos"
    app = ServedApp(scratch)
    try:
        kinds = laid()
        with sync_playwright() as playwright:
            browser = start(playwright)
            print(f"{'screen':28s}{'words':>7s}{'links':>7s}{'phone px':>10s}{'desk px':>9s}")
            for kind, (keeper, screens) in kinds.items():
                screens = {n: a for n, a in screens.items() if not only or n in only}
                take(browser, app.url, folder, kind, keeper, screens)
            browser.close()
    finally:
        app.close()
        connection.creation.destroy_test_db(name, verbosity=0)


def start(playwright):
    from tests.browser.conftest import CHROMIUM

    return playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])


def laid():
    """Make the three tanks; return {kind: (keeper, {name: address})}."""
    from apps.corals.models import Coral
    from apps.tanks.models import Tank
    from reeflog.demo import load_demo
    from tests.benchmarks.three_tanks import KEPT_FOR_YEARS, make_measured
    from tests.browser.main_screens import tank_screens
    from tests.factories import make_tank, make_user

    new, old = make_user(email="new@example.org"), make_user(email="old@example.org")
    demo = load_demo()
    cube = Tank.objects.get(owner=demo, name="Harbour cube")
    coral = Coral.objects.get(tank=cube, name="Cream staghorn")
    heavy = make_measured(old, KEPT_FOR_YEARS)
    first = heavy.corals.first()
    return {
        "empty": (new, tank_screens(make_tank(new, name="New tank"))),
        "demo": (demo, tank_screens(cube, coral, coral)),
        "heavy": (old, tank_screens(heavy, first, first)),
    }


def take(browser, url, folder, kind, keeper, screens):
    """Take all looks of a keeper's screens into a folder; print a line for each."""
    from tests.browser.conftest import sign_in
    from tests.browser.main_screens import measured

    found = {}
    for look, (width, height), scheme, media in LOOKS:
        context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme=scheme
        )
        sign_in(context, url, keeper)
        page = context.new_page()
        page.emulate_media(media=media, color_scheme=scheme)
        (folder / kind).mkdir(parents=True, exist_ok=True)
        for name, address in screens.items():
            found[name, look] = measured(page, url + address)
            file = folder / kind / f"{name.replace(' ', '-')}-{look}.png"
            page.screenshot(path=file, full_page=True)
        context.close()
    for name in screens:
        phone, desk = found[name, "phone-light"], found[name, "desk-light"]
        print(f"{kind + ' ' + name:28s}{phone['words']:7d}{phone['links']:7d}"
              f"{phone['height']:10d}{desk['height']:9d}", flush=True)  # fmt: skip


if __name__ == "__main__":
    main()
