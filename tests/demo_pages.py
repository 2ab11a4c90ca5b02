"""Save every page of the demo as its keeper sees it, to compare the site before and after a change.

    python -m tests.demo_pages save FOLDER
    python -m tests.demo_pages compare BEFORE AFTER

The clock stands still, and what differs from run to run (tokens, marks, random keys) is blanked, so
two folders of one code are alike to the byte.
"""

import argparse
import datetime as dt
import difflib
import os
import re
import sys
from pathlib import Path

import django
import time_machine

NOON = dt.datetime(2026, 11, 28, 12, 0, tzinfo=dt.UTC)
RANDOM = re.compile(
    r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}|[0-9a-f]{32,64}"
    r"|(?<=csrfmiddlewaretoken\" value=\")\w+|(?<=X-CSRFToken\": \")\w+"
    r"|(?<=\?v=)\w+"
)
LINK = re.compile(r"(?:href|hx-get)=\"(/[^\"#]*)")
# Files and what ends the session are no pages.
LEFT_OUT = ("/static/", "/accounts/logout", "/photos/", "/admin/")
PAGES_MAX = 1500


def save(folder):
    """Load the demo into a database of its own and save each page that its pages link to."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
    os.environ["DATABASE_URL"] = "sqlite://:memory:"
    django.setup()
    from django.core.management import call_command
    from django.test import Client
    from django.test.utils import setup_test_environment

    from apps.accounts.models import User
    from reeflog.demo import DEMO_EMAIL

    setup_test_environment()
    with time_machine.travel(NOON, tick=False):
        call_command("migrate", verbosity=0)
        call_command("load_demo", verbosity=0)
        client = Client()
        client.force_login(User.objects.get(email=DEMO_EMAIL))
        found = pages(client)
    folder.mkdir(parents=True, exist_ok=True)
    for path, text in found.items():
        name = re.sub(r"[^\w=.-]+", "_", path).strip("_")[:150] or "home"
        (folder / f"{name}.html").write_text(text)
    print(f"{len(found)} pages saved")


def pages(client):
    """Return {path: text} of the pages reached from the list of tanks, in the order found."""
    waiting, found = ["/", "/tanks/", "/settings/"], {}
    for path in waiting:
        if len(found) >= PAGES_MAX:
            break
        response = client.get(path.replace("&amp;", "&"), follow=True)
        if "html" not in response.get("Content-Type", ""):
            continue
        text = RANDOM.sub("*", response.content.decode())
        found[path] = f"{response.status_code}\n{text}"
        waiting += [link for link in dict.fromkeys(LINK.findall(text))
                    if link not in waiting and "*" not in link
                    and not link.startswith(LEFT_OUT)]  # fmt: skip
    return found


def compare(before, after):
    """Print how the pages of two folders differ; return the number of pages that do."""
    names = sorted({p.name for p in [*before.glob("*.html"), *after.glob("*.html")]})
    differing = 0
    for name in names:
        old, new = ((f / name).read_text().splitlines() if (f / name).exists() else []
                    for f in (before, after))  # fmt: skip
        if old != new:
            differing += 1
            print(*difflib.unified_diff(old, new, f"before/{name}", f"after/{name}", "", "", 0, ""),
                  sep="\n")  # fmt: skip
    print(f"{differing} of {len(names)} pages differ")
    return differing


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    verbs = parser.add_subparsers(dest="verb", required=True)
    verbs.add_parser("save").add_argument("folder", type=Path)
    both = verbs.add_parser("compare")
    both.add_argument("before", type=Path)
    both.add_argument("after", type=Path)
    told = parser.parse_args()
    if told.verb == "save":
        save(told.folder)
    else:
        sys.exit(min(compare(told.before, told.after), 1))


if __name__ == "__main__":
    main()
