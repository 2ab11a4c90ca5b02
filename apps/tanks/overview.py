"""How a tank stands today in a few lines, each by the app that knows it.

The tank's page lies below those apps: they add to OVERVIEW a provider(tank, now) that returns
Lines.
"""

from dataclasses import dataclass

from apps.common.registry import Registry

# The order in which lines are read: what shines, what is known of it, what lives under it.
ORDER = ("lamps", "map", "check", "bands", "looks")


@dataclass(frozen=True)
class State:
    """One state in a word and a shape; `key` chooses the shape."""

    key: str
    words: str


@dataclass(frozen=True)
class Line:
    """What is known of one thing, and the page with the rest of it."""

    key: str  # one of ORDER
    title: str
    url: str
    words: str = ""
    states: tuple[State, ...] = ()
    more: tuple[str, ...] = ()
    # Another page that this leads to, as (text, url).
    onward: tuple[str, str] | None = None
    # Spots of the water that it is about, (x, y, depth) [cm].
    spots: tuple[tuple[float, float, float], ...] = ()
    # A button for those who may write, as (text, the address it is sent to).
    action: tuple[str, str] | None = None


OVERVIEW: Registry[Line] = Registry()


def overview_of(tank, now):
    """Return the Lines of a tank in their order; () where nothing is known of it yet."""
    lines = OVERVIEW.collect(tank, now)
    return tuple(sorted(lines, key=lambda line: ORDER.index(line.key)))
