"""What a light change would do, before it is saved, as the apps above can work it out."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from apps.common.registry import Registry
from apps.lighting.change.factor import factor_words
from apps.lighting.models import HungFixture
from apps.tanks.models import Tank

# Closer to 1 than this it is called no change [1]: less than a screen shows.
SAME_WITHIN = 0.005


@dataclass(frozen=True)
class BandMove:
    """A coral that leaves its band or enters it, with its PAR before and after."""

    name: str
    url: str
    par_now_umol: float
    par_then_umol: float
    key: str  # below, within, above
    words: str


@dataclass(frozen=True)
class ChangeEffect:
    """The median light of one level after a change for 1 before, and the corals it moves."""

    ratio: float | None = None
    # What a tenth of the spots stay below, and a tenth get above [1].
    low_ratio: float | None = None
    high_ratio: float | None = None
    depth_cm: float = 0.0
    moves: tuple[BandMove, ...] = ()
    corals: int = 0
    # Why there is no number, or what it rests on.
    remark: str = ""

    @property
    def words(self) -> str:
        """How much brighter it gets, "" where that is not known."""
        if self.ratio is None:
            return ""
        if abs(self.ratio - 1) < SAME_WITHIN:
            return "no change in light"
        return f"{factor_words(self.ratio)} light"

    @property
    def span_words(self) -> str:
        """How far spots differ, "" where all change alike as a screen shows it."""
        if self.low_ratio is None or self.high_ratio is None:
            return ""
        if abs(self.high_ratio - self.low_ratio) < 2 * SAME_WITHIN:
            return ""
        return f"{self.percent(self.low_ratio)} to {self.percent(self.high_ratio)} by place"

    @staticmethod
    def percent(ratio: float) -> str:
        """Return a ratio as "−17 %" or "+8 %"."""
        return f"{100 * (ratio - 1):+.0f}\u00a0%".replace("-", "−")

    @property
    def staying(self) -> int:
        """How many corals stay in or out of their band as they are."""
        return self.corals - len(self.moves)


@dataclass(frozen=True)
class CheckOffer:
    """Readings that would make the light after the last change surer, and what begins them."""

    words: str
    button: str
    url: str


# provider(tank, rows, factor, now) yields the ChangeEffect of hanging HungFixtures `rows` instead
# of those of now, with so much light besides for 1 before.
CHANGE_EFFECTS: Registry[ChangeEffect] = Registry()
# provider(tank, now) yields the CheckOffer of a moment.
CHECK_OFFERS: Registry[CheckOffer] = Registry()


def change_effect(
    tank: Tank, rows: Sequence[HungFixture], factor: float, now: dt.datetime
) -> ChangeEffect | None:
    """Return what a change would do to the light of now, None where no app can tell."""
    return next(iter(CHANGE_EFFECTS.collect(tank, rows, factor, now)), None)
