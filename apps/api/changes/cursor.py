"""The cursor of the changes: how far a program has read, in a word it can only send back."""

from dataclasses import dataclass, field

from django.core import signing

from apps.tanks.kept_pages.models import ALL_TANKS, TankStamp

# An address is not read at any length [characters].
CHARS_MAX = 3500
# The row of a Place after which nothing of its head is left.
WHOLE = -1
SIGNER = signing.Signer(salt="reeflog.changes")


class UnfitCursor(Exception):
    """What was sent is no cursor of ours, or of a database that is no more."""


@dataclass(frozen=True)
class Place:
    """The last change read of a tank or a shelf, and the head at which its present reading began.

    Rows written by one statement have one head, and come in the order of their own numbers.
    """

    head: int
    pk: int
    start: int


@dataclass
class Cursor:
    """A Place for each tank and the user's shelf, and the epoch of the database they are of."""

    epoch: int
    places: dict[int, Place] = field(default_factory=dict)

    def word(self) -> str:
        """Return the cursor as a program keeps it: the same word for the same places."""
        rows = [[pk, *shortest(place)] for pk, place in sorted(self.places.items())]
        return SIGNER.sign_object([self.epoch, rows], compress=True)


def shortest(place: Place) -> tuple[int, ...]:
    """Return the numbers of a Place, without those that say nothing more."""
    if place == Place(place.head, WHOLE, place.head):
        return (place.head,)
    return (place.head, place.pk, place.start)


def read_cursor(word: str) -> Cursor:
    """Return the Cursor of a word; raise UnfitCursor for one that is not of this database."""
    if len(word) > CHARS_MAX:
        raise UnfitCursor
    try:
        epoch, rows = SIGNER.unsign_object(word)
    except (signing.BadSignature, ValueError) as problem:
        raise UnfitCursor from problem
    if epoch != epoch_now():
        raise UnfitCursor
    places = {pk: Place(head, *(rest or (WHOLE, head))) for pk, head, *rest in rows}
    return Cursor(epoch, places)


def epoch_now() -> int:
    """Return the epoch of the database: another one since an older moment was put back."""
    epochs = TankStamp.objects.filter(pk=ALL_TANKS).values_list("epoch", flat=True)
    return epochs.first() or 0
