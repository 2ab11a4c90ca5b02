"""What is known of one unhappy coral, as plain values: all that its case is judged by.

No rows, no clock: the same facts give the same sentence and the same next step.
"""

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

# A note older than this says how a coral was, not how it is [d]. Our own choice, as for episodes.
FRESH_DAYS = 30
# A coral that came so lately may still be settling [d]. Our own choice: the weeks after arrival
# in which a coral's colour tells least of the light.
SETTLING_DAYS = 42
# Light that rises to this, or falls to one over it, counts as changed [1]. Our own choice: twice
# and more what two readings of one meter differ by.
SHIFT_FACTOR = 1.2
# A light whose upper end is this many times its lower end says nothing of a band [1]. Our own
# choice: the usual bands reach from one to three.
VAGUE_FACTOR = 3.0


class Sign(StrEnum):
    """What is seen, by what it can come of."""

    TISSUE_LOSS = "tissue_loss"
    LIGHTER = "lighter"
    DARKER = "darker"
    # Polyps in, something else, or only a poor condition: light may do it either way.
    UNWELL = "unwell"


@dataclass(frozen=True)
class Logged:
    """One thing that was logged, with its day."""

    on: dt.date
    words: str
    kind: str = ""  # of the water log


@dataclass(frozen=True)
class Shift:
    """The light a coral got at a change, against the light it was used to then [1]."""

    ratio: float
    low: float
    high: float
    # The change that did it: "moved", "placed" or "light"; empty where none is logged.
    kind: str = ""
    on: dt.date | None = None
    place_before: str = ""  # where its light lay in its band until then; "" where not known

    @property
    def way(self) -> str:
        """Whether its light "rose", "fell" or stayed "steady", the interval counted."""
        if self.ratio >= SHIFT_FACTOR and self.low > 1:
            return "rose"
        return "fell" if self.ratio <= 1 / SHIFT_FACTOR and self.high < 1 else "steady"


@dataclass(frozen=True)
class CaseLight:
    """The light at the coral's own spot on the eve of the first note."""

    place: str  # "below", "within" or "above" its band
    place_sure: bool  # the whole interval lies there
    place_now: str | None  # today; None where not known any more
    shift: Shift | None = None
    # Today's light for 1 on that eve by what was done since [1]; None where it is not known.
    since: float | None = 1.0
    # Its interval [umol m-2 s-1].
    low_umol: float = 100.0
    high_umol: float = 120.0
    measured: bool = True  # rests on readings, not on lamp ratings alone
    extrapolated: bool = False


@dataclass(frozen=True)
class Others:
    """What the tank's other corals did at that time."""

    # In about the same light: of its own group, then of other groups.
    kin_well: int = 0
    kin_same: int = 0
    near_well: int = 0
    near_same: int = 0
    # With this one: that got worse within two weeks of it, and that live here.
    turned: int = 1
    living: int = 1


@dataclass(frozen=True, kw_only=True)
class CaseFacts:
    """All that a case is judged by."""

    sign: Sign
    seen: str  # in the keeper's words of the note: "paling"
    today: dt.date
    first_on: dt.date
    last_on: dt.date
    came_on: dt.date
    notes: int = 1
    slight: bool = False
    other_eyes: bool = False  # seen by another than who noted it before
    well_on: dt.date | None = None  # looked better again
    gone_on: dt.date | None = None
    light: CaseLight | None = None
    unknown: str = ""  # why there is no light
    keepers_band: bool = False  # not the usual one of its group
    vague_band: bool = False  # usual only for "other" corals, whatever they are
    water: tuple[Logged, ...] = ()  # what could have hurt, in the two weeks before
    out_of_range: Logged | None = None  # a value outside what is usual
    others: Others = Others()
    plan_under_way: bool = False

    @property
    def days_since_note(self) -> int:
        return (self.today - self.last_on).days

    @property
    def days_here(self) -> int:
        """Days from arrival to the first note."""
        return (self.first_on - self.came_on).days

    @property
    def place(self) -> str:
        """Where its light lay in its band; "" where not known."""
        return self.light.place if self.light else ""

    @property
    def is_settling(self) -> bool:
        return self.days_here < SETTLING_DAYS

    @property
    def way(self) -> str:
        """Which way its light changed: "rose", "fell", "steady"."""
        return self.light.shift.way if self.light and self.light.shift else "steady"

    @property
    def changed_fits(self) -> bool:
        """Whether its light changed the way that could do this."""
        ways = {Sign.LIGHTER: ("rose",), Sign.DARKER: ("fell",), Sign.UNWELL: ("rose", "fell")}
        return self.way in ways.get(self.sign, ())

    @property
    def place_fits(self) -> bool:
        """Whether it sat out of its band on the side that could do this."""
        sides = {
            Sign.LIGHTER: ("above",),
            Sign.DARKER: ("below",),
            Sign.UNWELL: ("above", "below"),
        }
        return self.light is not None and self.light.place in sides.get(self.sign, ())

    @property
    def place_speaks_against(self) -> bool:
        """Whether it sat out of its band on the other side."""
        sides = {Sign.LIGHTER: "below", Sign.DARKER: "above"}
        return self.light is not None and self.light.place == sides.get(self.sign)

    @property
    def change_speaks_against(self) -> bool:
        """Whether its light changed the other way."""
        ways = {Sign.LIGHTER: "fell", Sign.DARKER: "rose"}
        return self.way == ways.get(self.sign)

    @property
    def light_is_a_guess(self) -> bool:
        """Whether two readings at its spot would tell more than the map does."""
        light = self.light
        return light is not None and (not light.measured or light.extrapolated)

    @property
    def is_vague(self) -> bool:
        """Whether its light may be almost anything, and no change of it is sure either."""
        light = self.light
        wide = light is not None and light.high_umol > VAGUE_FACTOR * light.low_umol
        return wide and self.way == "steady"

    @property
    def is_mended(self) -> bool:
        """Whether its light went back the right way since the first note, and far enough."""
        since = self.light.since if self.light else None
        if self.light is None or since is None or self.sign not in (Sign.LIGHTER, Sign.DARKER):
            return False
        if self.light.place_now == ("above" if self.sign is Sign.LIGHTER else "below"):
            return False
        return since <= 1 / SHIFT_FACTOR if self.sign is Sign.LIGHTER else since >= SHIFT_FACTOR
