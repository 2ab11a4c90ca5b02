"""What apps above add to a page of an app below, which does not know them.

The app below owns a Registry; the root, which knows every app, adds their providers when the
project starts (`reeflog/wiring.py`). So no import points upward.
"""

from collections.abc import Callable, Iterable
from typing import Generic, TypeVar

Item = TypeVar("Item")


class Registry(Generic[Item]):
    """Providers of one kind of Item, called in the order in which they were added."""

    def __init__(self) -> None:
        self.providers: list[Callable[..., Iterable[Item]]] = []

    def add(self, provider: Callable[..., Iterable[Item]]) -> None:
        """Add a provider; one that is there already stays once."""
        if provider not in self.providers:
            self.providers.append(provider)

    def collect(self, *args: object) -> list[Item]:
        """Return what all providers yield for these arguments, in one list."""
        return [item for provider in self.providers for item in provider(*args)]
