"""Redis as what all machines of a site share: real, on a port of its own."""

import json
import os
import pickle
import shutil
import socket
import subprocess
import time

import pytest
import redis
from django.core.cache import caches
from django.test import Client
from django.urls import reverse

from apps.hosting.doctor.database import shared_cache
from apps.hosting.doctor.finding import State
from tests.accounts.test_sign_in import is_signed_in, sign_in
from tests.factories import make_user
from tests.test_environment import SERVED, manage

PROGRAM = shutil.which("redis-server")
pytestmark = [
    pytest.mark.one_database,
    pytest.mark.skipif(
        PROGRAM is None and os.environ.get("CI") != "true",
        reason="Redis is not installed here (on Debian: apt install redis-server).",
    ),
]
READ_CACHES = (
    "from django.conf import settings; import json; "
    "print(json.dumps([settings.SHARED_CACHE, settings.PACES_CACHE]))"
)


class Redis:
    """A server that keeps nothing on the disk, and may be killed and started again."""

    def __init__(self, folder):
        self.folder = folder
        with socket.create_server(("127.0.0.1", 0)) as probe:
            self.port = probe.getsockname()[1]
        self.url = f"redis://127.0.0.1:{self.port}/0"
        self.start()

    def start(self):
        assert PROGRAM, "CI needs Redis: apt install redis-server"
        words = ["--port", str(self.port), "--bind", "127.0.0.1", "--save", ""]
        self.process = subprocess.Popen(
            [PROGRAM, *words], cwd=self.folder, stdout=subprocess.DEVNULL
        )
        until = time.monotonic() + 20
        while time.monotonic() < until:
            try:
                return self.client().ping()
            except redis.ConnectionError:
                time.sleep(0.02)
        raise RuntimeError("Redis does not start.")

    def client(self):
        return redis.Redis.from_url(self.url)

    def kill(self):
        self.process.kill()
        self.process.wait()


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    made = Redis(tmp_path_factory.mktemp("redis"))
    yield made
    made.kill()


@pytest.fixture(scope="module")
def stated(server, tmp_path_factory):
    """What the settings make of REEFLOG_REDIS_URL: the shared cache, and that of paces."""
    url, folder = {"REEFLOG_REDIS_URL": server.url}, tmp_path_factory.mktemp("settings")
    done = manage("shell", "-v0", "-c", READ_CACHES, tmp_path=folder, **SERVED | url)
    return json.loads(done.stdout)


@pytest.fixture
def cache(server, stated, settings, db):
    shared, paces = stated
    settings.CACHES = settings.CACHES | {"default": shared, "paces": paces}
    server.client().flushall()
    return caches["default"]


@pytest.mark.parametrize("value", [1, True, "word", [1.5, 2.5], {"a": None}])
def test_values_come_back_as_they_were(cache, value):
    cache.set("key", value, 60)
    assert cache.get("key") == value


def test_counting_is_one_step_for_all(cache):
    cache.add("count", 1, 60)
    assert (cache.incr("count"), cache.get("count")) == (2, 2)


def test_a_pickle_that_somebody_put_there_is_not_opened(cache, server):
    class Runs:
        def __reduce__(self):
            return os.mkdir, ("/tmp/never-made",)

    server.client().set(cache.make_key("key"), pickle.dumps(Runs()))
    with pytest.raises(ValueError):
        cache.get("key")
    assert not os.path.exists("/tmp/never-made")


def test_failed_sign_ins_are_counted_there_and_in_no_table(cache, owner, server):
    guesser = Client()
    for _ in range(5):
        sign_in(guesser, password="wrong")
    sign_in(guesser)
    assert not is_signed_in(guesser)
    assert any(b"sign_in" in key for key in server.client().scan_iter())
    server.client().flushall()
    sign_in(guesser)
    assert is_signed_in(guesser)


def test_the_two_caches_do_not_meet(cache):
    cache.set("key", "mine", 60)
    assert caches["paces"].get("key") is None


def test_a_redis_that_is_killed_is_told_as_that_and_pages_without_it_open(cache, server):
    client = Client(raise_request_exception=False)
    client.force_login(make_user())
    assert client.get("/api/v1/tanks/").status_code == 200
    server.kill()
    try:
        refused = client.get("/api/v1/tanks/")
        assert refused.status_code == 503 and int(refused["Retry-After"]) > 0
        assert client.get(reverse("tank_list")).status_code == 200
    finally:
        server.start()
    assert client.get("/api/v1/tanks/").status_code == 200


def test_the_doctor_asks_it(cache, server):
    assert [one.state for one in shared_cache()] == [State.OK]


def test_a_wrong_address_stops_the_start(tmp_path):
    done = manage("check", tmp_path=tmp_path, **SERVED | {"REEFLOG_REDIS_URL": "cache:6379"})
    assert "REEFLOG_REDIS_URL" in done.stderr.splitlines()[-1]
