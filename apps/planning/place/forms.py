"""The form of a coral to be placed."""

from django import forms
from django.db.models import QuerySet

from apps.common.units import LengthField
from apps.planning.acclimation.forms import LightTypedField
from apps.tanks.models import Tank


class PlaceForm(forms.Form):
    """Whose place, which band, from which light, how deep an arm reaches."""

    def __init__(
        self,
        *args: object,
        corals: QuerySet,
        full_hours: float | None,
        tank: Tank,
        unit: str,
        **kwargs: object,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["coral"] = forms.ModelChoiceField(
            corals, label="Coral", required=False, empty_label="one that is not in the list yet"
        )
        for name, label, help_text in (
            ("band_low_umol", "Wants light from", "As PAR, or as daily light: “7 mol”."),
            ("band_high_umol", "to", ""),
        ):
            self.fields[name] = LightTypedField(
                label=label, full_hours=full_hours, help_text=help_text
            )
        self.fields["from_umol"] = LightTypedField(
            label="Light it comes from",
            full_hours=full_hours,
            required=False,
            help_text="PAR where it was kept: the shop, the swap, its spot here. Or daily light: "
            "“6.5 mol”.",
        )
        self.fields["deepest_cm"] = LengthField(
            label="As deep as you reach", unit=unit, low_cm=1, high_cm=tank.depth_cm,
            required=False, help_text="Blank: to the bottom.",
        )  # fmt: skip
        self.order_fields(["coral", "band_low_umol", "band_high_umol", "from_umol", "deepest_cm"])

    def clean(self) -> dict[str, object]:
        low, high = (self.cleaned_data.get(f"band_{end}_umol") for end in ("low", "high"))
        if low is not None and high is not None and low >= high:
            self.add_error("band_high_umol", "The upper end must be above the lower one.")
        return self.cleaned_data
