"""Reminders as notifications of browsers: locked, signed, and dropped where nobody takes them."""

import json
import logging
from collections.abc import Sequence

from django.conf import settings
from django.urls import reverse

from apps.accounts.models import User
from apps.common.push.base64url import decoded
from apps.common.push.delivery import NotAllowed, NotReached, deliver
from apps.common.push.keys import public_text, read_key, signed_word
from apps.common.push.message import locked
from apps.sharing.models import PushBrowser
from apps.sharing.reminder_models import KINDS
from apps.sharing.reminding.lines import Line

log = logging.getLogger("reeflog.push")
# A notification shows a few short lines; the page has the rest.
LINES_MOST, LINE_LETTERS = 4, 90
# A phone that was off for longer has the next day's reminder, or the pages [s].
WAITS_S = 24 * 3600
# The browser took its permission back, or was cleared.
GONE = {404, 410}


def site_key() -> str:
    """Return this site's public key, "" where a host set none."""
    return public_text(read_key(settings.PUSH_KEY)) if settings.PUSH_KEY else ""


def browsers_of(keeper: User) -> list[PushBrowser]:
    """Return the browsers that can be told something."""
    key = site_key()
    return list(keeper.push_browsers.filter(site_key=key).order_by("pk")) if key else []


def push(browsers: Sequence[PushBrowser], lines: Sequence[Line]) -> None:
    """Send what is new to browsers; those that take nothing any more are forgotten."""
    content = payload(lines)
    for browser in browsers:
        try:
            status = send(browser, content)
        except NotAllowed as problem:
            log.warning("Browser %s is no place to send to: %s", browser.pk, problem)
            browser.delete()
            continue
        except NotReached as problem:
            log.warning("Browser %s was not reached: %s", browser.pk, problem)
            continue
        if status in GONE:
            browser.delete()
        elif status >= 300:
            log.warning("Browser %s: its push service answered %s", browser.pk, status)


def send(browser: PushBrowser, content: bytes) -> int:
    """Send one browser a message; return the answer's status."""
    body = locked(content, point=decoded(browser.key), auth=decoded(browser.secret))
    word = signed_word(browser.endpoint, key=read_key(settings.PUSH_KEY), contact=settings.CONTACT)
    headers = {
        "Authorization": word,
        "Content-Encoding": "aes128gcm",
        "Content-Type": "application/octet-stream",
        "TTL": str(WAITS_S),
        "Urgency": "low",
    }
    return deliver(browser.endpoint, body, headers)


def payload(lines: Sequence[Line]) -> bytes:
    """Return what a browser shows: tank and kind of each line, and where a tap leads."""
    said = [line_words(line) for line in lines[:LINES_MOST]]
    if len(lines) > LINES_MOST:
        said.append(f"and {len(lines) - LINES_MOST} more")
    one = len(lines) == 1
    content = {
        "title": "reeflog: 1 reminder" if one else f"reeflog: {len(lines)} reminders",
        "body": "\n".join(said),
        "path": lines[0].path if one else reverse("tank_list"),
    }
    return json.dumps(content, ensure_ascii=False).encode()


def line_words(line: Line) -> str:
    """Return a line's tank and kind; its own words stay on the pages and in the mail."""
    kind = KINDS[line.kind]
    words = f"{' '.join(line.tank.split())}: {kind}" if line.tank else kind
    return words if len(words) <= LINE_LETTERS else f"{words[: LINE_LETTERS - 1]}…"
