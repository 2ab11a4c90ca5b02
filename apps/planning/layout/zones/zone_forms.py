"""The rows of a question's zones: band by daily light or PAR, and range of the water."""

from collections.abc import Sequence

from django import forms

from apps.common.units import LengthField, NumberField
from apps.photics import limits
from apps.photics.ground.scene import Tank as SceneTank
from apps.photics.ground.usual_bands import USUAL_DAY_HOURS, band_dli_mol, dli_band_umol
from apps.photics.layout.question import Zone
from apps.planning.layout.zones.fitted_zones import FORM_ENDS, parts_text, read_parts
from apps.planning.layout.zones.folded_rows import FoldedRow, Rows
from apps.planning.zone_origin import ZoneOrigin

# Rows of a question: chosen, because a search weighs all of them against each other.
ZONES_MOST = 6
# How much a zone counts against the others.
WEIGHTS = [(1.0, "as much as the others"), (2.0, "twice as much"), (0.5, "half as much")]
DLI, PAR = "dli", "par"
BAND_IN = [(DLI, "mol a day (DLI)"), (PAR, "PAR at the peak")]
# A zone with what it was made of, None where nobody knows.
OriginalZone = tuple[Zone, ZoneOrigin | None]
# Ends of a band that can be typed, whichever it is in [mol m-2 d-1 or umol m-2 s-1].
BAND_TYPED_MIN = 0.01


class ZoneForm(FoldedRow):
    """One zone: its name, band, weight and range of the water."""

    name = forms.CharField(label="Name", max_length=60)
    weight = forms.TypedChoiceField(label="Counts", choices=WEIGHTS, coerce=float, initial=1.0)
    band_in = forms.ChoiceField(label="Light in", choices=BAND_IN, initial=DLI, required=False)
    high_is_soft = forms.BooleanField(label="More than that is only a caution", required=False)
    # What it was made of, and the parts of the box it takes while it follows its measures.
    lives = forms.CharField(max_length=40, required=False, widget=forms.HiddenInput)
    parts = forms.CharField(max_length=120, required=False, widget=forms.HiddenInput)
    # Else where a hand put it, and for which measures.
    drawn_for = forms.CharField(max_length=240, required=False, widget=forms.HiddenInput)

    needed = ("name", "low", "high", *FORM_ENDS)
    # Each range of the water, and what lies at its start.
    RANGES = (
        ("x", "From the left", "length_cm"),
        ("y", "From the front", "width_cm"),
        ("depth", "Below the surface", "depth_cm"),
    )

    def __init__(
        self,
        *args: object,
        box: SceneTank | None,
        unit: str,
        full_hours: float = USUAL_DAY_HOURS,
        **kwargs: object,
    ) -> None:
        """`full_hours` of light a day [h] turn daily light into PAR."""
        super().__init__(*args, **kwargs)
        self.box, self.full_hours = box, full_hours
        for axis, label, side in self.RANGES:
            end = getattr(box, side) if box else limits.TANK_SIDE_MAX_CM
            for which, word in (("from", label), ("to", "to")):
                self.fields[f"{axis}_{which}"] = LengthField(
                    label=word, unit=unit, low_cm=0, high_cm=end
                )
        for name, label in (("low", "Light from"), ("high", "to")):
            self.fields[name] = NumberField(
                label=label, low=BAND_TYPED_MIN, high=limits.BAND_MAX_UMOL
            )

    def clean(self) -> dict[str, object]:
        data = super().clean()
        # What has no word for it was typed as PAR, as all was before.
        data["band_in"] = data.get("band_in") or PAR
        pairs = [(f"{axis}_from", f"{axis}_to") for axis, _, _ in self.RANGES]
        for low, high in (*pairs, ("low", "high")):
            if None not in (data.get(low), data.get(high)) and data[low] >= data[high]:
                self.add_error(high, "This end must be above the other.")
        self.check_band(data)
        if not self.errors and self.has_all_bounds and self.is_dry():
            self.add_error("x_from", "This zone lies outside the tank, beyond its panes.")
        return data

    def check_band(self, data: dict[str, object]) -> None:
        """Mark an end of the band that is no PAR a coral could have."""
        for name, umol in zip(("low", "high"), self.band_umol(data), strict=False):
            if not limits.BAND_MIN_UMOL <= umol <= limits.BAND_MAX_UMOL:
                self.add_error(name, f"That is PAR {umol:.0f}; between {limits.BAND_MIN_UMOL:g} "
                                     f"and {limits.BAND_MAX_UMOL:g}, please.")  # fmt: skip

    def band_umol(self, data: dict[str, object]) -> tuple[float, ...]:
        """Return the two ends of the band as PAR [umol m-2 s-1]; none where one can't be read."""
        low, high = data.get("low"), data.get("high")
        if not isinstance(low, float | int) or not isinstance(high, float | int):
            return ()
        if data["band_in"] == DLI:
            return dli_band_umol((low, high), full_hours=self.full_hours)
        return low, high

    @property
    def has_all_bounds(self) -> bool:
        """Whether all that a zone is made of was read."""
        return all(self.cleaned_data.get(name) is not None for name in self.needed)

    @property
    def other_words(self) -> str:
        """Return the band in the measure it was not typed in; empty where it can't be read."""
        try:
            ends = [self.fields[n].to_python(self[n].value()) for n in ("low", "high")]
        except forms.ValidationError:
            return ""
        if None in ends:
            return ""
        low, high = ends
        if self["band_in"].value() == DLI:
            low, high = dli_band_umol((low, high), full_hours=self.full_hours)
            return f"PAR {low:.0f}–{high:.0f}"
        low, high = band_dli_mol((low, high), full_hours=self.full_hours)
        return f"{low:.1f}–{high:.1f}\u00a0mol a day"

    @property
    def band_words(self) -> str:
        """Return the band as typed, in words."""
        low, high = self["low"].value(), self["high"].value()
        if self["band_in"].value() == DLI:
            return f"{show(low)}–{show(high)}\u00a0mol a day"
        return f"PAR {show(low)}–{show(high)}"

    @property
    def edge_words(self) -> str:
        """Return how light outside the band counts."""
        if self["high_is_soft"].value() in (True, "on", "True"):
            return "above that, watch for paling"
        return "less and more count as out of it"

    @property
    def follows(self) -> bool:
        """Return whether the zone still follows the measures of the tank."""
        return read_parts(self["parts"].value()) is not None

    def is_dry(self) -> bool:
        """Return whether no point of the zone lies within the panes."""
        if self.box is None or self.box.is_box:
            return False
        x, y, _ = self.zone().points().T
        return bool(self.box.outside(x, y).all())

    def zone(self) -> Zone:
        """Return the Zone of a valid row."""
        data = self.cleaned_data
        ranges = {
            name: (data[f"{axis}_from"], data[f"{axis}_to"])
            for name, axis in (("x_cm", "x"), ("y_cm", "y"), ("depth_cm", "depth"))
        }
        low, high = self.band_umol(data)
        return Zone(data["name"], **ranges, low_umol=low, high_umol=high,
                    weight=data["weight"], high_is_soft=data["high_is_soft"])  # fmt: skip

    def origin(self) -> ZoneOrigin:
        """Return what a valid row was made of."""
        data = self.cleaned_data
        return ZoneOrigin(
            lives=data.get("lives", ""),
            parts=read_parts(data.get("parts")),
            dli_mol=(data["low"], data["high"]) if data["band_in"] == DLI else None,
        )


ZoneRows = forms.formset_factory(
    ZoneForm, formset=Rows, extra=0, can_delete=True, max_num=ZONES_MOST,
    absolute_max=ZONES_MOST, validate_max=True,
)  # fmt: skip


def show(value: object) -> str:
    """Return an end of a band as it stands in its field."""
    return f"{value:g}" if isinstance(value, int | float) else str(value or "")


def zone_texts(zone: Zone, origin: ZoneOrigin | None = None) -> dict[str, object]:
    """Return the initial values of a zone's row."""
    ends = {"x": zone.x_cm, "y": zone.y_cm, "depth": zone.depth_cm}
    texts: dict[str, object] = {f"{axis}_{which}": value for axis, pair in ends.items()
             for which, value in zip(("from", "to"), pair, strict=True)}  # fmt: skip
    band, band_in = (zone.low_umol, zone.high_umol), PAR
    if origin and origin.dli_mol:
        band, band_in = origin.dli_mol, DLI
    known = {} if origin is None else {
        "lives": origin.lives, "parts": parts_text(origin.parts)
    }  # fmt: skip
    return {"name": zone.name, "band_in": band_in, "low": round(band[0], 2),
            "high": round(band[1], 2), "weight": zone.weight,
            "high_is_soft": zone.high_is_soft, **texts, **known}  # fmt: skip


def of_zones(zones: Sequence[Zone], origins: Sequence[ZoneOrigin] = ()) -> list[OriginalZone]:
    """Return each zone with its origin, None where nothing is known of it."""
    known = [*origins, *[None] * (len(zones) - len(origins))]
    return list(zip(zones, known, strict=True))
