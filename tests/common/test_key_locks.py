"""One at a time for a key: among threads, among processes, and after one of them died."""

import multiprocessing
import os
import signal
import threading
import time

import pytest

from apps.common.serving import key_locks
from apps.common.serving.key_locks import KeyLocks

FORK = multiprocessing.get_context("fork")


@pytest.fixture
def path(tmp_path):
    return tmp_path / "locks"


def hold_until(path, key, held, may_end):
    """Hold a key in a process of its own until it may end."""
    with KeyLocks(path).held(key, 20.0):
        held.set()
        may_end.wait(20.0)


@pytest.fixture
def other(path):
    """A process that holds "map", and what lets it end."""
    held, may_end = FORK.Event(), FORK.Event()
    process = FORK.Process(target=hold_until, args=(path, "map", held, may_end))
    process.start()
    assert held.wait(20.0)
    yield process, may_end
    # Whoever sets an event that a killed process waited for waits for ever.
    process.kill()
    process.join(20.0)


def held_after(locks, key, wait_s=20.0):
    began = time.monotonic()
    with locks.held(key, wait_s):
        return time.monotonic() - began


def test_threads_are_let_in_one_by_one(path):
    locks, inside, most = KeyLocks(path), [], []

    def work():
        with locks.held("map", 20.0):
            inside.append(1)
            most.append(len(inside))
            time.sleep(0.01)
            inside.pop()

    threads = [threading.Thread(target=work) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(20.0)
    assert most == [1] * 8


def test_another_key_waits_for_nobody(path, other):
    assert held_after(KeyLocks(path), "coral") < 1.0


def test_a_key_that_another_process_holds_is_waited_for(path, other):
    _, may_end = other
    threading.Timer(0.3, may_end.set).start()
    assert held_after(KeyLocks(path), "map") >= 0.25


def test_nobody_waits_for_ever(path, other):
    assert 0.2 <= held_after(KeyLocks(path), "map", 0.2) < 5.0
    locks = KeyLocks(path)
    with locks.held("coral", 20.0):
        assert 0.2 <= held_after_in_thread(locks, "coral", 0.2) < 5.0


def held_after_in_thread(locks, key, wait_s):
    took = []
    thread = threading.Thread(target=lambda: took.append(held_after(locks, key, wait_s)))
    thread.start()
    thread.join(20.0)
    return took[0]


def test_what_a_dead_process_held_is_free(path, other):
    process, _ = other
    os.kill(process.pid, signal.SIGKILL)
    process.join(20.0)
    assert held_after(KeyLocks(path), "map") < 5.0


def test_a_disk_without_locks_is_done_without(path, monkeypatch):
    def refuse(*args):
        raise OSError(37, "No locks available")

    monkeypatch.setattr(key_locks.fcntl, "lockf", refuse)
    assert held_after(KeyLocks(path), "map") < 1.0


def test_nothing_is_left_of_a_failure(path):
    locks = KeyLocks(path)
    with pytest.raises(ValueError), locks.held("map", 20.0):
        raise ValueError
    assert held_after(locks, "map") < 1.0
