"""What a club has: its tanks, its meters. Apps above add theirs to the club's page."""

from dataclasses import dataclass, field

from apps.common.registry import Registry


@dataclass(frozen=True)
class ClubLine:
    """One thing of a club: its name, its page, and a few words."""

    title: str
    url: str
    words: str = ""
    # Something is overdue.
    is_due: bool = False


@dataclass(frozen=True)
class ClubPart:
    """The lines of one kind, what to say where there are none, and (words, address) of actions."""

    key: str
    title: str
    lines: tuple[ClubLine, ...]
    none_yet: str
    actions: tuple[tuple[str, str], ...] = field(default=())


# provider(user, club) for one of its members.
PARTS: Registry[ClubPart] = Registry()
