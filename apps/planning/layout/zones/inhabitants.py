"""What may live in a tank: where in it, and the daily light that it is given.

Corals have the usual band of their group, other kinds their own; where each lives is our own
choice. A keeper changes both.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from apps.corals.models import Coral
from apps.photics.ground.scene import Tank as SceneTank
from apps.photics.ground.usual_bands import USUAL_DLI_MOL, dli_band_umol
from apps.photics.layout.question import Zone
from apps.photics.layout.usual_zones import LOW_ROCK, SAND, SPS_HIGH, UsualZone
from apps.planning.zone_origin import Parts, ZoneOrigin
from apps.tanks.models import Tank

TRADE, OWN = "typical of the trade", "our own choice"
# Parts of a side, from and to [1].
Part = tuple[float, float]


@dataclass(frozen=True)
class Inhabitant:
    """A kind of life: daily light [mol m-2 d-1], and the parts of the box it takes, 0 to 1."""

    name: str
    dli_mol: tuple[float, float]
    source: str
    # Kept free at each end along x, and along y.
    margins: Part
    # Downward: where it lives alone, and where beside the others of the rock.
    depth: Part
    beside: Part
    usual_place: str = "all"
    # How much its zone counts, and whether light above its band only asks for care.
    weight: float = 1.0
    high_is_soft: bool = True


def of_usual(name: str, usual: UsualZone, *, alone: Part) -> Inhabitant:
    """Return the Inhabitant of a usual zone; `alone` it takes more of the depth."""
    return Inhabitant(
        name, USUAL_DLI_MOL[usual.group], TRADE,
        (usual.margin_x, usual.margin_y), alone, usual.depth,
        weight=usual.weight, high_is_soft=usual.high_is_soft,
    )  # fmt: skip


SPS, LPS, SOFT = "sps", "lps", "soft"
INHABITANTS = {
    SPS: of_usual("SPS", SPS_HIGH, alone=(0.15, 0.55)),
    LPS: of_usual("LPS", LOW_ROCK, alone=(0.35, 0.85)),
    SOFT: of_usual("Soft corals", SAND, alone=(0.35, 0.97)),
    "macroalgae": Inhabitant(
        "Macroalgae", (4.0, 12.0), OWN, (0.05, 0.08), (0.3, 0.95), (0.3, 0.95)
    ),
    "frags": Inhabitant("Frags", (4.0, 9.0), OWN, (0.1, 0.15), (0.15, 0.3), (0.15, 0.3)),
    "refugium": Inhabitant(
        "Refugium", (5.0, 15.0), OWN, (0.05, 0.05), (0.2, 0.95), (0.2, 0.95), "right_third"
    ),
}  # fmt: skip
# The kinds that lie above each other on one rock, from the top down; a mixed tank has all of them.
ON_ROCK = (SPS, LPS, SOFT)
MIXED = "mixed"
CHOICES = {MIXED: "Mixed reef"} | {key: kind.name for key, kind in INHABITANTS.items()}
# The part of the length that a kind takes.
PLACES: dict[str, tuple[str, Part]] = {
    "all": ("whole length", (0.0, 1.0)),
    "left_half": ("left half", (0.0, 0.5)),
    "right_half": ("right half", (0.5, 1.0)),
    "left_third": ("left third", (0.0, 1 / 3)),
    "middle_third": ("middle third", (1 / 3, 2 / 3)),
    "right_third": ("right third", (2 / 3, 1.0)),
}
# The inhabitant that a group of corals is.
OF_GROUP = {Coral.Group.SPS: SPS, Coral.Group.LPS: LPS, Coral.Group.SOFT: SOFT}


@dataclass(frozen=True)
class Wish:
    """A kind of INHABITANTS wished for, and the place of PLACES it takes."""

    kind: str
    place: str = "all"

    @property
    def key(self) -> str:
        """Return what a zone made of this wish carries, to be known again."""
        return f"{self.kind}@{self.place}"


@dataclass(frozen=True)
class ZoneParts:
    """A zone as parts of the box along x, y and depth, from and to [1 each]."""

    x: Part
    y: Part
    depth: Part

    @property
    def flat(self) -> Parts:
        """Return the six ends in a row, from and to along x, y and depth."""
        return (*self.x, *self.y, *self.depth)

    def in_box(self, box: SceneTank) -> tuple[Part, Part, Part]:
        """Return the ranges along x, y and depth in a box of water [cm]."""
        x, y, depth = (
            (round(start * side, 1), round(end * side, 1))
            for (start, end), side in (
                (self.x, box.length_cm), (self.y, box.width_cm), (self.depth, box.depth_cm)
            )
        )  # fmt: skip
        return x, y, depth


def wishes(chosen: Iterable[str], places: dict[str, str] | None = None) -> list[Wish]:
    """Return the Wishes of keys of CHOICES, a mixed tank as what lives in it; unknown ones left."""
    known, places = [key for key in CHOICES if key in set(chosen)], places or {}
    made = []
    for key in known:
        usual = INHABITANTS[key].usual_place if key in INHABITANTS else "all"
        place = places.get(key, "")
        place = place if place in PLACES else usual
        made += [Wish(kind, place) for kind in (ON_ROCK if key == MIXED else (key,))]
    return list(dict.fromkeys(made))


def wishes_of(tank: Tank | None) -> list[str]:
    """Return the keys of CHOICES for what lives in a tank; a mixed reef where nothing is known."""
    if tank is None:
        return [MIXED]
    groups = set(tank.corals.present().living().values_list("group", flat=True))
    kinds = {OF_GROUP.get(group, SOFT) for group in groups}
    return [MIXED] if not kinds or kinds == set(ON_ROCK) else [k for k in ON_ROCK if k in kinds]


def parts_of(wish: Wish, wished: Sequence[Wish]) -> ZoneParts:
    """Return the ZoneParts of a wish among all that are wished for.

    Those on one rock lie above each other where several are wished for at one place.
    """
    kind = INHABITANTS[wish.kind]
    start, end = PLACES[wish.place][1]
    x_margin, y_margin = kind.margins
    shared = [w for w in wished if w.kind in ON_ROCK and w.place == wish.place]
    stacked = wish.kind in ON_ROCK and len(shared) > 1
    # Towards the middle of the tank a zone ends where its place does.
    left = start + (x_margin if start == 0.0 else 0.0)
    right = end - (x_margin if end == 1.0 else 0.0)
    return ZoneParts(
        (left, right), (y_margin, 1 - y_margin), kind.beside if stacked else kind.depth
    )


def zone_name(wish: Wish) -> str:
    """Return what a zone made of a wish is called."""
    name = INHABITANTS[wish.kind].name
    return name if wish.place == "all" else f"{name}, {PLACES[wish.place][0]}"


def usual_zones(
    wished: Sequence[Wish], *, full_hours: float, box: SceneTank
) -> list[tuple[Zone, ZoneOrigin]]:
    """Return for each wish its Zone in a box, at these hours of light a day [h], and its origin."""
    made = []
    for wish in wished:
        parts = parts_of(wish, wished)
        dli_mol = INHABITANTS[wish.kind].dli_mol
        low, high = dli_band_umol(dli_mol, full_hours=full_hours)
        kind = INHABITANTS[wish.kind]
        zone = Zone(
            zone_name(wish), *parts.in_box(box), low_umol=low, high_umol=high,
            weight=kind.weight, high_is_soft=kind.high_is_soft,
        )  # fmt: skip
        origin = ZoneOrigin(lives=wish.key, parts=parts.flat, dli_mol=dli_mol)
        made.append((zone, origin))
    return made
