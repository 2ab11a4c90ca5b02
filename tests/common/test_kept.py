"""What is worked out once: for all workers, one at a time, bounded, and never in the way."""

import multiprocessing
import os
import pickle
import shutil
import signal
import sqlite3
import threading
import time

import pytest
from django.core.cache import caches

from apps.common import kept as store
from apps.common.kept import keep, kept


class Work:
    """Something costly that counts how often it was done."""

    def __init__(self, answer="answer"):
        self.answer, self.times = answer, 0

    def __call__(self):
        self.times += 1
        return self.answer


def in_other_worker():
    """Forget what this worker's memory holds, as if another one asked."""
    caches["maps"].clear()
    store._open.cache_clear()
    store._broken_until.clear()


def test_other_worker_finds_the_answer(kept_folder):
    work = Work({"par": [1.5, 2.5]})
    assert kept("map", work) == {"par": [1.5, 2.5]}
    in_other_worker()
    assert kept("map", work) == {"par": [1.5, 2.5]} and work.times == 1


def test_other_key_is_worked_out(kept_folder):
    work = Work()
    kept("map-of-May", work), kept("map-of-June", work)
    assert work.times == 2


def test_what_is_kept_again_stands(kept_folder):
    kept("map", Work("plain"))
    keep("map", "with lattice")
    in_other_worker()
    assert kept("map", Work("never")) == "with lattice"


def test_other_code_opens_nothing(kept_folder, monkeypatch):
    work = Work()
    kept("map", work)
    in_other_worker()
    monkeypatch.setattr(store, "code_digest", lambda: "newer")
    kept("map", work)
    assert work.times == 2


def test_other_secret_key_opens_nothing(kept_folder, settings):
    work = Work()
    kept("map", work)
    in_other_worker()
    settings.SECRET_KEY = "another"
    kept("map", work)
    assert work.times == 2


class Harm:
    """What an attacker would have unpickled."""

    def __reduce__(self):
        return os.mkdir, ("harm-done",)


@pytest.mark.parametrize("mode", [1, 4])
def test_planted_pickle_is_never_opened(kept_folder, monkeypatch, tmp_path, mode):
    """1 is a row of bytes, 4 one that the library itself would unpickle."""
    monkeypatch.chdir(tmp_path)
    work = Work()
    kept("map", work)
    in_other_worker()
    with sqlite3.connect(kept_folder / "cache.db") as rows:
        rows.execute("UPDATE Cache SET value = ?, mode = ?", (pickle.dumps(Harm()), mode))
    assert kept("map", work) == "answer" and work.times == 2
    assert not (tmp_path / "harm-done").exists()


def test_folder_that_others_may_write_is_not_used(kept_folder):
    kept_folder.mkdir()
    kept_folder.chmod(0o777)
    kept("map", Work())
    assert list(kept_folder.iterdir()) == []


def test_folder_is_for_the_apps_user_alone(kept_folder):
    kept("map", Work())
    assert kept_folder.stat().st_mode & 0o777 == 0o700


def test_place_that_cannot_be_made_is_done_without(kept_folder, settings, tmp_path):
    (tmp_path / "file").write_text("no kept_folder")
    settings.KEPT_DIR = tmp_path / "file" / "kept"
    assert kept("map", Work()) == "answer"


def test_place_that_is_there_later_is_used_again(kept_folder, settings, tmp_path, monkeypatch):
    settings.KEPT_DIR = tmp_path / "file" / "kept"
    (tmp_path / "file").write_text("in the way")
    assert kept("map", Work()) == "answer" and store.open_store() is None
    (tmp_path / "file").unlink()
    # Not at each request: that would fill the log.
    now = time.monotonic()
    assert store.open_store() is None
    monkeypatch.setattr(store.time, "monotonic", lambda: now + store.TRY_AGAIN_S + 1.0)
    assert store.open_store() is not None


def test_folder_that_is_deleted_under_a_worker_is_filled_anew(kept_folder):
    kept("a", lambda: 1)
    shutil.rmtree(kept_folder)
    caches["maps"].clear()
    assert kept("a", lambda: 2) == 2
    caches["maps"].clear()
    assert kept("a", lambda: 3) == 2


def test_store_that_fails_is_done_without(kept_folder, monkeypatch):
    kept("another", Work())

    def full(*args, **kwargs):
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(store.diskcache.Cache, "set", full)
    monkeypatch.setattr(store.diskcache.Cache, "get", full)
    assert kept("map", Work()) == "answer"


def test_little_room_is_left_to_photos(kept_folder, monkeypatch):
    monkeypatch.setattr(store, "FREE_MB_MIN", 1 << 40)
    kept("map", Work())
    assert len(store.open_store()) == 0


def test_oldest_go_when_there_are_too_many(kept_folder, monkeypatch):
    monkeypatch.setattr(store, "ENTRIES_MAX", 3)
    for n in range(5):
        kept(f"map-{n}", Work())
    in_other_worker()
    first, last = Work(), Work()
    kept("map-0", first), kept("map-4", last)
    assert len(store.open_store()) == 3 and (first.times, last.times) == (1, 0)


def test_bytes_are_bounded(kept_folder, settings):
    settings.KEPT_MB_MAX = 4
    for n in range(12):
        kept(f"map-{n}", Work(os.urandom(1 << 20)))
    assert store.open_store().volume() <= 5 << 20


def test_failure_is_passed_on_and_not_kept(kept_folder):
    def fail():
        raise ValueError("no map")

    with pytest.raises(ValueError, match="no map"):
        kept("map", fail)
    assert kept("map", Work()) == "answer"


def slow_answer(log):
    """Ask from a process of its own for what takes a while; `log` gets a byte for each making."""

    def make():
        with open(log, "ab") as stated:
            stated.write(b"x")
        time.sleep(0.5)
        return "answer"

    in_other_worker()
    assert kept("slow", make) == "answer"


def test_four_workers_at_once_work_it_out_once(kept_folder, tmp_path):
    log = tmp_path / "log"
    fork = multiprocessing.get_context("fork")
    workers = [fork.Process(target=slow_answer, args=(log,)) for _ in range(4)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(30)
    assert [worker.exitcode for worker in workers] == [0] * 4
    assert log.read_bytes() == b"x"


def test_killed_worker_leaves_no_lock_behind(kept_folder, tmp_path):
    fork = multiprocessing.get_context("fork")
    begun = fork.Event()

    def hang():
        begun.set()
        time.sleep(60)

    worker = fork.Process(target=lambda: kept("slow", hang))
    worker.start()
    assert begun.wait(20)
    os.kill(worker.pid, signal.SIGKILL)
    worker.join(20)
    in_other_worker()
    start = time.monotonic()
    assert kept("slow", Work()) == "answer"
    assert time.monotonic() - start < store.WAIT_S / 2


def test_waiting_for_one_that_is_stuck_ends(kept_folder, monkeypatch):
    monkeypatch.setattr(store, "WAIT_S", 0.3)
    begun, end = threading.Event(), threading.Event()

    def stuck():
        begun.set()
        end.wait(20)
        return "late"

    other = threading.Thread(target=lambda: kept("slow", stuck))
    other.start()
    assert begun.wait(10)
    assert kept("slow", Work("own")) == "own"
    end.set()
    other.join(10)
