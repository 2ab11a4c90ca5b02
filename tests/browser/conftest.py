"""Real pages in a real browser: one Chromium, found on this machine, never downloaded."""

import os
import shutil

import pytest
from django.conf import settings
from django.test import Client

from tests.browser.wire import Wire
from tests.factories import make_user

# Playwright runs an event loop in this thread; Django would refuse the ORM beside it.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

# The shell draws the same pages without a window's machinery, so it is quicker. `make test-full`
# names the whole browser.
BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
CHROMIUM = os.environ.get("CHROMIUM") or next(filter(None, map(shutil.which, BROWSERS)), None)
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}


def pytest_collection_modifyitems(items):
    here = os.path.dirname(__file__)
    for item in items:
        if str(item.path).startswith(here):
            item.add_marker(pytest.mark.browser)
            if CHROMIUM is None and os.environ.get("CI") != "true":
                reason = "Chromium is not installed here (on Debian: apt install chromium)"
                item.add_marker(pytest.mark.skip(reason=reason))


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    assert CHROMIUM, "CI needs Chromium: apt install chromium"
    quiet = ["--no-sandbox", "--disable-gpu", "--disable-background-networking",
             "--disable-component-update", "--disable-sync", "--no-first-run"]  # fmt: skip
    return {**browser_type_launch_args, "executable_path": CHROMIUM, "args": quiet}


@pytest.fixture(scope="session")
def live_server(served_app):
    """Pages are tried as they are served, not as debug shows them."""
    return served_app


@pytest.fixture(autouse=True)
def photos_in_a_scratch_folder(settings, served_app):
    """Put photos where the served app has its own."""
    settings.MEDIA_ROOT = served_app.photos


@pytest.fixture
def complaints(page):
    """Collect what the browser complains of: console errors, failed scripts, broken policy."""
    told = []
    page.on("console", lambda m: told.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda error: told.append(str(error)))
    return told


@pytest.fixture
def keeper(transactional_db):
    return make_user(email="keeper@example.org")


@pytest.fixture
def open_page(context, live_server, keeper):
    """Return a function that opens a path as the keeper, in a new tab of the given size."""
    client = Client()
    client.force_login(keeper)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    context.add_cookies(
        [{"name": cookie.key, "value": cookie.value, "url": live_server.url}]
    )  # fmt: skip

    def opened(path, size=PHONE):
        page = context.new_page()
        page.set_viewport_size(size)
        page.goto(live_server.url + path)
        return page

    return opened


@pytest.fixture
def wire(live_server):
    line = Wire(live_server.host, live_server.port)
    yield line
    line.close()


@pytest.fixture
def phone(browser_type, browser_type_launch_args, tmp_path):
    """Return a function that starts the browser on one profile folder; again after close()."""
    started = []

    def start(folder="phone", size=PHONE):
        profile = tmp_path / folder
        context = browser_type.launch_persistent_context(
            profile, viewport=size, service_workers="allow", **browser_type_launch_args
        )
        started.append(context)
        return context

    yield start
    for context in started:
        context.close()


def sign_in(context, url, user):
    client = Client()
    client.force_login(user)
    cookie = client.cookies[settings.SESSION_COOKIE_NAME]
    in_a_month = 4_000_000_000
    context.add_cookies(
        [{"name": cookie.key, "value": cookie.value, "url": url, "expires": in_a_month}]
    )
