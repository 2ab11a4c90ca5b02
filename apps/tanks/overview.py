"""How a tank stands today in a few lines, each by the app that knows it.

The tank's page lies below those apps: they add to OVERVIEW a provider(tank, now) that returns
Lines.
"""

from dataclasses import dataclass

from apps.common.registry import Registry

# The order in which lines are read: what is to do, what lives there, what is known of its light,
# what shines.
ORDER = ("check", "comments", "looks", "bands", "lamps")


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
    # Single things of it that have a page of their own, as (text, url); read before `more`.
    links: tuple[tuple[str, str], ...] = ()
    # Whether it calls for the keeper today.
    is_due: bool = False
    # Whether it is none of those that the owner shows the tank to.
    for_owner: bool = False
    # A button for those who may write, as (text, the address it is sent to).
    action: tuple[str, str] | None = None


@dataclass(frozen=True)
class Picture:
    """A drawing of the tank that leads to the page with the rest; `template` prints `drawn`."""

    template: str
    title: str
    url: str
    words: str
    drawn: object


OVERVIEW: Registry[Line] = Registry()
# Providers(tank, now, unit) of Pictures.
PICTURES: Registry[Picture] = Registry()


def overview_of(tank, now, *, is_owner=False):
    """Return the Lines of a tank in their order; () where nothing is known of it yet."""
    lines = [line for line in OVERVIEW.collect(tank, now) if is_owner or not line.for_owner]
    return tuple(sorted(lines, key=lambda line: ORDER.index(line.key)))
