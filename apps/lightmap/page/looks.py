"""What the colours of the light map can stand for: the light, how sure, shadows, its change.

Each look has its own scale and its own colours, so that no two are mistaken for each other.
"""

from dataclasses import dataclass, replace
from typing import Protocol, runtime_checkable

import numpy as np

from apps.drawing.contours import TWO_WAY
from apps.drawing.legend import CHANGE_LEVELS, PAR_SCALE, Scale
from apps.drawing.level import PointLight
from apps.photics.field.field_change import FieldChange
from apps.photics.ground.arrays import ArrayLike, FloatArray, FloatOrArray
from apps.photics.ground.estimate import Estimate, GridEstimate, SectionEstimate

PlaneEstimate = GridEstimate | SectionEstimate
PAR, SURE, SHADOW, CHANGE = "par", "sure", "shadow", "change"


class CutLight(PointLight, Protocol):
    """A light that can be cut level and upright, measured or planned."""

    def block(self, x_cm: FloatArray, y_cm: FloatArray, depth_cm: FloatArray) -> Estimate: ...
    def grid(self, depth_cm: float, step_cm: float) -> GridEstimate: ...
    def section(self, y_cm: float, step_cm: float) -> SectionEstimate: ...


@runtime_checkable
class SmoothLight(Protocol):
    """A light that knows whether cuts of it are read off a lattice."""

    @property
    def is_smooth(self) -> bool: ...


@runtime_checkable
class DirectLight(Protocol):
    """A light that knows how much of it comes straight from one fixture."""

    def directness(self, points_cm: FloatArray) -> FloatArray: ...


@runtime_checkable
class ChangedLight(Protocol):
    """A light that knows how it differs from an earlier one."""

    def change(self, points_cm: ArrayLike) -> FieldChange: ...


@dataclass(frozen=True)
class Look:
    """One choice of what is drawn: its words, and for fixed scales their levels and bands."""

    key: str
    name: str
    title: str  # above the legend
    meaning: str  # one line for the keeper
    caption: str  # opens the line below a drawing
    sign: str = ""  # behind a value
    levels: tuple[float, ...] = ()
    colours: tuple[str, ...] = ()
    words: tuple[str, ...] = ()  # of each band

    def values(self, shown: CutLight, cut: PlaneEstimate) -> FloatArray:
        """Return what is drawn at the nodes of a cut, an array of its shape."""
        if self.key == SURE:
            return half_width_percent(cut.par_umol, cut.low_umol, cut.high_umol)
        if self.key == SHADOW:
            if not isinstance(shown, DirectLight):
                raise TypeError("How this light casts shadows is not known.")
            proportion = shown.directness(points_of(cut))
            return 100.0 * proportion.reshape(cut.par_umol.shape)
        if self.key == CHANGE:
            if not isinstance(shown, ChangedLight):
                raise TypeError("Nothing earlier is known of this light.")
            ratio = shown.change(points_of(cut)).ratio
            return 100.0 * (ratio.reshape(cut.par_umol.shape) - 1.0)
        return cut.par_umol


# The limits between words are house rules. Lightness falls steadily along both scales, so they
# stay apart without colour vision.
LOOKS = {
    look.key: look
    for look in (
        Look(
            key=PAR,
            name="Light",
            title="PAR at the day’s peak, µmol m⁻² s⁻¹",
            meaning="How much light there is at the day’s peak.",
            caption="PAR",
        ),
        Look(
            key=SURE,
            name="How sure",
            title="Half the width of the 90 % interval, % of the PAR",
            meaning="How far off the light may be: 9 times in 10 it lies within this "
            "much of the number shown.",
            caption="How sure the PAR is",
            sign=" %",
            levels=(7.0, 12.0, 20.0, 35.0),
            colours=("#0f4c55", "#477c80", "#83a9a3", "#bfd2c2", "#f7f0d8"),
            words=("very sure", "sure", "fair", "rough", "mostly a guess"),
        ),
        Look(
            key=SHADOW,
            name="Shadows",
            title="Share of the light that comes straight from one lamp, %",
            meaning="High: a branch throws one hard, dark shadow. Low: light arrives from many "
            "sides and fills shadows in.",
            caption="Share of the light from one direction",
            sign=" %",
            levels=(20.0, 40.0, 60.0, 80.0),
            colours=("#f6ead2", "#d9b988", "#b1855a", "#7d5636", "#3f2a1b"),
            words=("hardly a shadow", "soft", "mixed", "hard", "very hard"),
        ),
        Look(
            key=CHANGE,
            name="Change",
            title="Change of the PAR, %",
            meaning="Blue became dimmer, brown became brighter. Dots: it may be no change at all.",
            caption="Change of the PAR",
            sign=" %",
            levels=tuple(round(100.0 * (factor - 1.0), 6) for factor in CHANGE_LEVELS),
            colours=TWO_WAY,
        ),
    )
}


def scale_for(look: Look, wanted: tuple[float, float] | None = None) -> Scale:
    """Return the Scale of a look; PAR has that of every PAR map, with the wanted band on it."""
    if look.levels:
        return Scale(look.levels, look.colours, look.words, look.sign, two_way=look.key == CHANGE)
    return replace(PAR_SCALE, wanted=wanted)


def half_width_percent(
    par_umol: FloatOrArray, low_umol: FloatOrArray, high_umol: FloatOrArray
) -> FloatOrArray:
    """Return half of the interval's width as a share of the PAR, scalars or arrays [%]."""
    return 100.0 * (high_umol - low_umol) / (2.0 * par_umol)


def sure_words(percent: float) -> str:
    """Return the word of the How sure scale for half an interval's width [%]."""
    look = LOOKS[SURE]
    return look.words[int(np.searchsorted(look.levels, percent, side="right"))]


def points_of(cut: PlaneEstimate) -> FloatArray:
    """Return the nodes (n, 3) of a level or upright cut, row by row as its arrays [cm]."""
    if isinstance(cut, GridEstimate):
        x, y = np.meshgrid(cut.x_cm, cut.y_cm)
        depth = np.full(x.shape, cut.depth_cm)
    else:
        x, depth = np.meshgrid(cut.x_cm, cut.depth_cm)
        y = np.full(x.shape, cut.y_cm)
    return np.stack([x.ravel(), y.ravel(), depth.ravel()], axis=1)
