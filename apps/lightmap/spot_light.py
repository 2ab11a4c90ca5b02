"""The light of single spots at one moment, and what it rests on."""

import datetime as dt
from dataclasses import dataclass
from typing import TypedDict

from apps.photics.ground.arrays import BoolArray, FloatArray


@dataclass(frozen=True)
class SpotLight:
    """The light of one spot at one moment [umol m-2 s-1], and what it rests on."""

    par_umol: float
    low_umol: float
    high_umol: float
    extrapolated: bool
    dli_mol: float | None
    survey_pk: int
    surveyed_at: dt.datetime
    changes_since: int
    measured_later: bool
    # When the light first changed after the survey: from then on it is predicted.
    predicted_since: dt.datetime | None = None
    # False where no reading stands behind it, only what is stated of the fixtures.
    measured: bool = True
    # Hours of full light its day is worth [h], None where nobody stated them.
    full_hours: float | None = None


class Provenance(TypedDict):
    """What the light of all spots rests on, by the names of SpotLight."""

    survey_pk: int
    surveyed_at: dt.datetime
    changes_since: int
    measured_later: bool
    predicted_since: dt.datetime | None
    measured: bool
    full_hours: float | None


@dataclass(frozen=True)
class LightColumns:
    """The light of spots at one moment as columns (m,), and what all of it rests on."""

    par_umol: FloatArray
    low_umol: FloatArray
    high_umol: FloatArray
    extrapolated: BoolArray
    inside: BoolArray  # within rock, where nobody reads light
    dli_mol: FloatArray | None  # None where the log gives no hours
    rests_on: Provenance

    def row(self, place: int) -> SpotLight | None:
        """Return the SpotLight of one spot by its place in the columns, None within rock."""
        if self.inside[place]:
            return None
        return SpotLight(
            par_umol=float(self.par_umol[place]),
            low_umol=float(self.low_umol[place]),
            high_umol=float(self.high_umol[place]),
            extrapolated=bool(self.extrapolated[place]),
            dli_mol=None if self.dli_mol is None else float(self.dli_mol[place]),
            **self.rests_on,
        )

    def rows(self) -> list[SpotLight | None]:
        """Return `row` of all spots."""
        # As lists: taking numbers out of arrays one by one costs more than the light itself.
        names = ("par_umol", "low_umol", "high_umol", "extrapolated", "inside")
        columns = [getattr(self, name).tolist() for name in names]
        daily = [None] * len(self.par_umol) if self.dli_mol is None else self.dli_mol.tolist()
        return [
            None if inside else SpotLight(par, low, high, beyond, dli, **self.rests_on)
            for par, low, high, beyond, inside, dli in zip(*columns, daily, strict=True)
        ]
