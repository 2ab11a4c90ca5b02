"""A choice of fixtures hung: kinds, each at its places, one height and one level."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from typing import NamedTuple

from apps.photics.ground.scene import Fixture
from apps.photics.layout.choice import Choice, Part
from apps.photics.layout.question import Candidate, Places, Question
from apps.photics.rig.fixture_light import OutputEstimate

# One fixture hung: x, y, height [cm], beam [degrees].
HungAt = tuple[float, float, float, float]


class HungKind(NamedTuple):
    """All fixtures of one kind in a layout: whose, with which beam, where, at which level."""

    candidate: int
    beam_deg: float
    places_cm: Places
    height_cm: float
    level: float = 1.0

    def hung_at(self) -> list[HungAt]:
        """Return where each of its fixtures hangs, with its beam."""
        return [(x, y, self.height_cm, self.beam_deg) for x, y in self.places_cm]


@dataclass(frozen=True)
class Layout:
    """Kinds hung: middles (n, 2) in whole steps [cm], one height [cm] and one level [1] each."""

    hung: tuple[HungKind, ...]

    @property
    def choice(self) -> Choice:
        """Return which fixtures hang."""
        parts = (Part(kind.candidate, kind.beam_deg, len(kind.places_cm)) for kind in self.hung)
        return Choice(tuple(parts))

    @property
    def levels(self) -> tuple[float, ...]:
        """Return the level of each kind, 0 to 1 [1]."""
        return tuple(kind.level for kind in self.hung)

    @property
    def height_cm(self) -> float:
        """Return the height of the first kind [cm]."""
        return self.hung[0].height_cm

    @property
    def places_cm(self) -> Places:
        """Return the places of all fixtures, kind by kind [cm]."""
        return tuple(place for kind in self.hung for place in kind.places_cm)

    def at_levels(self, levels: Iterable[float]) -> "Layout":
        """Return the layout with a level for each kind, 0 to 1 [1]."""
        return Layout(tuple(
            kind._replace(level=float(level))
            for kind, level in zip(self.hung, levels, strict=True)
        ))  # fmt: skip

    def with_kind(self, k: int, kind: HungKind) -> "Layout":
        """Return the layout with another k-th kind."""
        return replace(self, hung=(*self.hung[:k], kind, *self.hung[k + 1 :]))

    def only(self, numbers: Collection[int]) -> "Layout":
        """Return the layout with none but the fixtures of these numbers, kind by kind from 0."""
        kinds, first = [], 0
        for kind in self.hung:
            places = [place for k, place in enumerate(kind.places_cm, first) if k in numbers]
            first += len(kind.places_cm)
            if places:
                kinds.append(kind._replace(places_cm=tuple(places)))
        return Layout(tuple(kinds))

    def fixtures(self, question: Question) -> tuple[list[Fixture], list[OutputEstimate]]:
        """Return the photics Fixtures, kind by kind, and their OutputEstimates."""
        made: list[Fixture] = []
        outputs: list[OutputEstimate] = []
        for kind in self.hung:
            candidate = question.candidates[kind.candidate]
            for at in kind.hung_at():
                name = f"{candidate.name} {len(made) + 1}"
                made.append(fixture_of(candidate, at, level=kind.level, name=name))
                outputs.append(candidate.output)
        return made, outputs


def fixture_of(candidate: Candidate, at: HungAt, *, level: float = 1.0, name: str = "") -> Fixture:
    """Return the Fixture of a candidate hung at a place, at a level from 0 to 1 [1]."""
    x, y, height, beam = at
    return Fixture(
        x_cm=x, y_cm=y, height_cm=height, beam_deg=beam, panel_x_cm=candidate.panel_x_cm,
        panel_y_cm=candidate.panel_y_cm, kind=candidate.kind, level=level, name=name,
        turn_deg=candidate.turn_deg, tilt_deg=candidate.tilt_deg,
        optic=candidate.optic_at(beam), emitter=candidate.emitter,
    )  # fmt: skip


def kept_kinds(question: Question) -> tuple[HungKind, ...]:
    """Return the HungKinds that hang already and stay where they are, at full level."""
    return tuple(
        HungKind(number, candidate.beams_deg[0], candidate.kept_at_cm, candidate.kept_height_cm)
        for number, candidate in enumerate(question.candidates)
        if candidate.is_kept
    )
