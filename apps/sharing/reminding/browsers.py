"""Adding and naming the browsers of a keeper."""

import re

from django.db import transaction

from apps.accounts.models import User
from apps.common.serving.row_locks import hold_row
from apps.sharing.models import PushBrowser
from apps.sharing.push_models import BROWSERS_MOST
from apps.sharing.reminding.pushing import site_key

# The first that a browser's own words hold: many say the names of others, too.
PROGRAMS = (
    (r"Firefox|FxiOS", "Firefox"),
    (r"Edg", "Edge"),
    (r"OPR|Opera", "Opera"),
    (r"SamsungBrowser", "Samsung Internet"),
    (r"Chrom|CriOS", "Chrome"),
    (r"Safari", "Safari"),
)
DEVICES = (
    (r"iPhone", "iPhone"),
    (r"iPad", "iPad"),
    (r"Android", "Android"),
    (r"Windows", "Windows"),
    (r"Mac OS", "Mac"),
    (r"Linux", "Linux"),
)


class TooManyBrowsers(Exception):
    """A keeper has as many as one may have."""


@transaction.atomic
def add_browser(*, keeper: User, endpoint: str, key: str, secret: str, agent: str) -> PushBrowser:
    """Keep a browser for a keeper, in place of what it was before.

    Raises ValidationError and TooManyBrowsers.
    """
    browser = PushBrowser(
        keeper=keeper,
        endpoint=endpoint,
        key=key,
        secret=secret,
        site_key=site_key(),
        name=browser_name(agent),
    )
    # Before a database is asked for anything that came from outside.
    browser.clean_fields()
    # Two taps at once must neither pass the bound together nor meet each other's row.
    hold_row(User.objects, keeper.pk)
    # Whoever sits at it now has it: one browser has one address.
    PushBrowser.objects.filter(endpoint=endpoint).delete()
    if keeper.push_browsers.count() >= BROWSERS_MOST:
        raise TooManyBrowsers
    browser.full_clean()
    browser.save()
    return browser


def browser_name(agent: str) -> str:
    """Return a browser's name in words, of what it says of itself: "Firefox on Android"."""

    def first(patterns: tuple[tuple[str, str], ...]) -> str:
        return next((name for pattern, name in patterns if re.search(pattern, agent)), "")

    program, device = first(PROGRAMS) or "A browser", first(DEVICES)
    return f"{program} on {device}" if device else program
