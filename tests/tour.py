"""Take the pictures of the README: python -m tests.tour http://127.0.0.1:8000

Phone pages of the demo keeper, served there, in the light theme and in few colours, so that each
picture stays small.
"""

import io
import os
import sys

import django
from PIL import Image
from playwright.sync_api import sync_playwright

from tests.paths import ROOT

FOLDER = ROOT / "docs" / "tour"
PHONE = {"width": 390, "height": 760}
COLOURS = 48
BYTES_MAX = 60_000
CUBE, SHELF, STAGHORN = "Harbour cube", "The long shelf", "Cream staghorn"


def links_of(page, path):
    """Return {words of a link: its address} of a page."""
    page.goto(path)
    pairs = page.locator("main a").evaluate_all(
        "all => all.map(a => [a.innerText.trim().split('\\n')[0], a.href])"
    )
    return {words.strip().split("\n")[0]: url for words, url in reversed(pairs)}


def addresses(page, base):
    """Return {name of a picture: the address it is taken of}."""
    tanks = links_of(page, f"{base}/tanks/")
    # A tank's name leads to its map.
    cube, shelf = (tanks[name].removesuffix("map/") for name in (CUBE, SHELF))
    staghorn = links_of(page, f"{cube}corals/")[STAGHORN]
    plan = next(url for url in links_of(page, f"{cube}plans/").values() if "/layouts/" in url)
    return {
        "tank": cube,
        "map": f"{shelf}map/",
        "coral": staghorn,
        "case": f"{staghorn}case/",
        "plan": plan,
        "what_if": f"{shelf}what-if/",
    }


def take(page, name, address):
    """Write one picture; refuse one that is too large for a page that loads it."""
    page.goto(address)
    page.wait_for_load_state("networkidle")
    shot = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    path = FOLDER / f"{name}.png"
    shot.quantize(COLOURS, dither=Image.Dither.NONE).save(path, optimize=True)
    size = path.stat().st_size
    print(f"{path.relative_to(ROOT)}: {size} bytes")
    if size > BYTES_MAX:
        raise SystemExit(f"{name} has more than {BYTES_MAX} bytes.")


def main(base):
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
    django.setup()
    from reeflog.demo import DEMO_EMAIL, DEMO_PASSWORD
    from tests.browser.conftest import CHROMIUM

    FOLDER.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_context(viewport=PHONE, color_scheme="light").new_page()
        page.goto(f"{base}/accounts/login/")
        page.fill("input[name=login]", DEMO_EMAIL)
        page.fill("input[name=password]", DEMO_PASSWORD)
        page.click("main button[type=submit]")
        page.wait_for_url(f"{base}/tanks/")
        for name, address in addresses(page, base).items():
            take(page, name, address)
        browser.close()


if __name__ == "__main__":
    main(sys.argv[1].rstrip("/"))
