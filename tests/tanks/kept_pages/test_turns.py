"""Whose page is made next."""

import threading
import time

import pytest

from apps.tanks.kept_pages import turns
from apps.tanks.kept_pages.turns import Turns

# Long enough for a thread to begin on a busy machine [s].
WAIT_S = 10


class Maker(threading.Thread):
    """Takes a turn, and has it until it is let go."""

    def __init__(self, lane, begun):
        super().__init__(daemon=True)
        self.lane, self.begun, self.has_turn = lane, begun, threading.Event()
        self.let_go = threading.Event()
        before = len(lane._waiting) + len(lane._began_s)
        self.start()
        until = time.monotonic() + WAIT_S
        while len(lane._waiting) + len(lane._began_s) == before and time.monotonic() < until:
            time.sleep(0.001)

    def run(self):
        with self.lane.turn():
            self.begun.append(self)
            self.has_turn.set()
            self.let_go.wait(WAIT_S)

    def end(self):
        self.let_go.set()
        self.join(WAIT_S)


@pytest.fixture
def makers():
    """Return a function that lets so many come one after the other, all let go at the end."""
    lane, begun, all_of_them = Turns(), [], []

    def come(number):
        new = [Maker(lane, begun) for _ in range(number)]
        all_of_them.extend(new)
        return new, begun

    yield come
    for one in all_of_them:
        one.let_go.set()
    for one in all_of_them:
        one.join(WAIT_S)


def test_each_has_its_turn_in_the_order_in_which_it_came(makers):
    these, begun = makers(4)
    for one in these:
        assert one.has_turn.wait(WAIT_S)
        one.end()
    assert begun == these


def test_one_is_made_at_a_time(makers, monkeypatch):
    monkeypatch.setattr(turns, "LONG_S", 60.0)
    (first, second), _ = makers(2)
    assert first.has_turn.wait(WAIT_S)
    assert not second.has_turn.wait(0.05)
    first.end()
    assert second.has_turn.wait(WAIT_S)


def test_none_waits_for_one_that_takes_long_but_so_many_are_the_most(makers, monkeypatch):
    monkeypatch.setattr(turns, "LONG_S", 0.02)
    these, _ = makers(turns.MOST + 1)
    for one in these[:-1]:
        assert one.has_turn.wait(WAIT_S)
    assert not these[-1].has_turn.wait(0.1)
    these[0].end()
    assert these[-1].has_turn.wait(WAIT_S)


def test_a_page_that_fails_gives_its_turn_back():
    lane = Turns()
    with pytest.raises(ZeroDivisionError), lane.turn():
        raise ZeroDivisionError
    with lane.turn():
        pass
