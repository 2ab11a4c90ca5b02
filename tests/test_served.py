"""The app as it is served, debug off: every address, every static name, and what a device keeps."""

import datetime as dt
import http.client
import json
import re
import socket
from pathlib import Path
from urllib.parse import urljoin

import pytest
from django.conf import settings
from django.core import signing
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from apps.clubs.models import ClubLink
from apps.common.tokens import hash_token, new_token
from apps.corals.photos.links import photo_link
from apps.sharing.models import CalendarLink, PlanLink, ShareLink
from apps.sharing.reminding.digest import SALT
from apps.tanks.models import Invitation
from tests.corals.shots import make_colour
from tests.factories import make_club, make_survey, make_tank, make_user
from tests.serving import METRICS_TOKEN
from tests.test_every_address import (
    ACCESS,
    ALL,
    NONE,
    OPEN,
    Rows,
    make_invitation,
    make_searched_plan,
)
from tests.test_policy import PAGES

STATIC = Path(settings.BASE_DIR) / "static"
HASHED = re.compile(r"\.[0-9a-f]{12}\.\w+$")
LOADED = re.compile(r'(?:src|href)="(/static/[^"]+)"')
IMPORTED = re.compile(r'from "(\.[^"]+)"')
# Open to all and no row's: the others of OPEN have a secret in their address.
FRONT = (
    "home", "glossary", "service_worker", "manifest", "entry_shell", "round_shell", "api_docs",
    "privacy", "robots", "api-schema",
)  # fmt: skip


class Visitor:
    """Asks the served app as a browser does, signed in as `user` or as nobody."""

    def __init__(self, app, user=None):
        self.app, self.cookies = app, {"csrftoken": "x" * 32}
        if user:
            client = Client()
            client.force_login(user)
            name = settings.SESSION_COOKIE_NAME
            self.cookies[name] = client.cookies[name].value

    def ask(self, method, path, body="", kind="application/x-www-form-urlencoded"):
        """Return status, headers and text of the answer."""
        line = http.client.HTTPConnection(self.app.host, self.app.port, timeout=60)
        headers = {
            "Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()),
            "X-CSRFToken": self.cookies["csrftoken"],
            "Origin": self.app.url,
            "Content-Type": kind,
        }
        line.request(method, path, body, headers)
        answer = line.getresponse()
        text = answer.read().decode(errors="replace")
        line.close()
        return answer.status, answer.headers, text

    def get(self, path):
        status, _, text = self.ask("GET", path)
        assert status == 200, (path, status)
        return text

    def post_nothing(self, path):
        if path.startswith("/api/"):
            return self.ask("POST", path, "{}", "application/json")[0]
        return self.ask("POST", path)[0]


@pytest.fixture
def app(transactional_db, served_app, settings):
    settings.MEDIA_ROOT = served_app.photos
    return served_app


@pytest.fixture
def keeper(app):
    return make_user(email="owner@example.org")


def guarded_addresses(keeper):
    """Yield (name, address) of all that needs a sign-in, each with rows of a tank of its own."""
    for name in sorted(ALL.keys() - OPEN):
        rows = Rows(make_tank(keeper))
        if name == "invitation_answer":
            yield name, reverse(name, args=[make_invitation(rows.tank).pk])
        else:
            yield name, rows.address(name)
    for name, words in PAGES:
        if name not in ALL and not words:
            yield name, reverse(name)


def secret_of(model, **what):
    """Make a row that is opened by a secret; return the secret."""
    row = model(**what)
    secret = row.renew_token()
    row.save()
    return secret


def open_addresses(tank):
    """Return {name: address} of all that opens without an account."""
    photo, plan = make_colour(Rows(tank).coral).photo, make_searched_plan(tank.owner, tank)
    make_survey(tank)
    ends = {"expires_at": timezone.now() + dt.timedelta(days=7)}
    chart = secret_of(ShareLink, tank=tank, show_photos=True, show_notes=True, **ends)
    shared_plan = secret_of(PlanLink, plan=plan, **ends)
    calendar = new_token()
    CalendarLink.objects.create(tank=tank, keeper=tank.owner, token_hash=hash_token(calendar))
    words = {
        "shared_map": [chart],
        "shared_preview": [chart],
        "shared_photo": [chart, photo.key],
        "shared_photo_small": [chart, photo.key],
        "shared_plan": [shared_plan],
        "shared_plan_answer": [shared_plan, 1],
        "open_calendar": [calendar],
        "invitation_open": [secret_of(Invitation, tank=tank, email="guest@example.org")],
        "club_join": [secret_of(ClubLink, club=make_club(tank.owner), **ends)],
        "reminders_off": [signing.dumps(tank.owner.pk, salt=SALT)],
    } | dict.fromkeys(FRONT, ())
    addresses = {name: reverse(name, args=args) for name, args in words.items()}
    return addresses | {"photo_linked": photo_link(photo)[0]}


def is_opened_by_looking(cells):
    """Tell of a row of the matrix whether whoever has the address sees a page there."""
    cell = cells["anonymous"] if cells["link_holder"] == NONE else cells["link_holder"]
    return cell.split()[0] == "200"


def test_every_open_address_opens(app, keeper):
    addresses, visitor = open_addresses(make_tank(keeper)), Visitor(app)
    assert addresses.keys() == {name for name in OPEN if is_opened_by_looking(ACCESS[name])}
    opened = {name: visitor.ask("GET", at)[0] for name, at in addresses.items()}
    assert opened == dict.fromkeys(addresses, 200)


def test_no_address_fails_when_looked_at(app, keeper):
    owner, visitor, loaded, failed = Visitor(app, keeper), Visitor(app), set(), {}
    for name, address in guarded_addresses(keeper):
        status, _, text = owner.ask("GET", address)
        loaded |= set(LOADED.findall(text))
        for who, told in (("owner", status), ("visitor", visitor.ask("GET", address)[0])):
            if told >= 500:
                failed[name, who] = told
    assert failed == {}
    # What the pages load is there, by a name that changes when it does.
    assert len(loaded) > 30 and all(map(HASHED.search, loaded))
    for name in sorted(loaded):
        visitor.get(name)


@pytest.mark.one_database
def test_no_address_fails_when_nothing_is_sent_there(app, keeper):
    asked = ((name, at, Visitor(app, keeper)) for name, at in guarded_addresses(keeper))
    answers = {name: visitor.post_nothing(at) for name, at, visitor in asked}
    assert {name: told for name, told in answers.items() if told >= 500} == {}
    # Were the forms refused for where they come from, this would prove nothing.
    assert answers["tank_edit"] == 200 and answers["coral_remove"] == 302


def test_every_static_name_is_served_for_good(app):
    """A name tells what the file holds, so a browser need never ask for it again."""
    visitor = Visitor(app)
    names = json.loads((app.folder / "static" / "staticfiles.json").read_text())["paths"]
    files = [str(path.relative_to(STATIC)) for path in STATIC.rglob("*") if path.is_file()]
    served = {"/static/" + names[name] for name in files}
    for address in sorted(served):
        status, headers, text = visitor.ask("GET", address)
        assert (status, "immutable" in headers["Cache-Control"]) == (200, True), address
        if address.endswith(".js"):
            # One module is loaded once, so all must ask for it by this one name.
            assert {urljoin(address, path) for path in IMPORTED.findall(text)} <= served, address


def test_a_device_keeps_all_that_its_shells_load(app):
    visitor = Visitor(app)
    script = visitor.get(reverse("service_worker"))
    kept = json.loads(re.match(r"const KEPT = (.*);", script)[1])
    texts = {address: visitor.get(address) for address in kept["files"]}
    for shell in kept["shells"].values():
        assert set(LOADED.findall(visitor.get(shell))) <= texts.keys()
    for address, text in texts.items():
        if address.endswith(".js"):
            assert {urljoin(address, path) for path in IMPORTED.findall(text)} <= texts.keys()


def test_a_page_that_is_not_there_is_told_in_our_own_words(app):
    status, _, text = Visitor(app).ask("GET", "/nowhere/")
    assert status == 404 and 'class="top__name"' in text


def test_cookies_are_for_https_alone(app):
    _, headers, _ = Visitor(app).ask("GET", reverse("account_login"))
    assert "Secure" in headers["Set-Cookie"] and "Strict-Transport-Security" in headers


@pytest.mark.one_database
@pytest.mark.parametrize(
    "bounds",
    [
        "Content-Length: 6\r\nTransfer-Encoding: chunked", "Content-Length: 6\r\nContent-Length: 0",
        "Transfer-Encoding: xchunked", "Transfer-Encoding : chunked", "Content-Length: +6",
        "Transfer-Encoding: chunked\r\nTransfer-Encoding: identity", "Content-Length: 0x6",
    ],
    ids=lambda bounds: bounds.replace("\r\n", ", "),
)  # fmt: skip
def test_a_request_whose_end_can_be_read_in_two_ways_is_refused(app, bounds):
    """Else what a proxy takes for its body would be answered here as a request of its own."""
    hidden = f"GET {reverse('glossary')} HTTP/1.1\r\nHost: {app.host}\r\n\r\n"
    with socket.create_connection((app.host, app.port), timeout=10) as line:
        head = f"POST / HTTP/1.1\r\nHost: {app.host}\r\n{bounds}\r\n\r\n"
        line.sendall(f"{head}0\r\n\r\n{hidden}".encode())
        answer = b"".join(iter(lambda: line.recv(65536), b""))
    assert re.match(rb"HTTP/1.1 (400|501) ", answer) and answer.count(b"HTTP/1.1 ") == 1


def test_a_host_asks_by_any_name_and_sees_all_workers(app, db):
    visitor = Visitor(app)
    for _ in range(20):
        visitor.get(reverse("glossary"))
    line = http.client.HTTPConnection(app.host, app.port, timeout=60)
    token = {"Host": "10.0.0.7", "Authorization": f"Bearer {METRICS_TOKEN}"}
    answers = {}
    for path in ("/health/", "/ready/", "/metrics/"):
        line.request("GET", path, headers=token)
        told = line.getresponse()
        answers[path] = told.status, told.read().decode()
    assert [answers["/health/"][0], answers["/metrics/"][0]] == [200, 200]
    # The tests' tables were made from the models, so migrations are all that is amiss.
    assert json.loads(answers["/ready/"][1]) == {
        "database": "ok", "storage": "ok", "migrations": "not ready",
    }  # fmt: skip
    counted = re.search(
        r'seconds_count{method="GET",route="glossary/",status="2xx"} (\d+)', answers["/metrics/"][1]
    )
    assert int(counted[1]) >= 20


def test_the_log_is_of_json_lines_that_name_nobody(app, keeper):
    visitor, secret = Visitor(app), "s" * 43
    mark = visitor.ask("GET", f"/s/{secret}/")[1]["X-Request-ID"]
    body = "login=owner%40example.org&password=wrong"
    visitor.ask("POST", reverse("account_login"), body)
    text = app.log.read_text()
    lines = [json.loads(line) for line in text.splitlines() if line.startswith("{")]
    ours = next(line for line in lines if line.get("request_id") == mark)
    assert ours["route"] == "s/<str:token>/" and ours["status"] == 404
    assert any(line["logger"] == "apps.accounts.adapter" for line in lines)
    assert not any(word in text for word in (secret, "owner@example.org"))
