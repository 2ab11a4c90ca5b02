"""The channels of a fixture as rows: a name, a peak or a white, and its share of the PAR."""

from django import forms

from apps.common.units import NumberField
from apps.lighting.optic_models import CHANNEL_NAME_MAX, check_channels
from apps.photics import limits

PREFIX = "channel"
BLANK_ROWS = 2


class ColourField(forms.CharField):
    """A peak or a white: "450 nm" or "6500 K"; a bare number is told by its size.

    Cleans to {"peak_nm": ...} or {"white_kelvin": ...}.
    """

    def __init__(self, **kwargs):
        self.number = NumberField(words=("nm", "k", "kelvin"), low=0, high=limits.KELVIN_MAX)
        super().__init__(**kwargs)

    def clean(self, value):
        text = super().clean(value)
        if not text:
            return None
        number = self.number.clean(text)
        said_nm, said_kelvin = text.lower().endswith("nm"), text.lower().endswith(("k", "kelvin"))
        if said_nm or (not said_kelvin and number <= limits.PEAK_NM_MAX):
            if not limits.PEAK_NM_MIN <= number <= limits.PEAK_NM_MAX:
                raise forms.ValidationError(
                    f"A peak is {limits.PEAK_NM_MIN:g} to {limits.PEAK_NM_MAX:g} nm."
                )
            return {"peak_nm": number}
        if not limits.KELVIN_MIN <= number <= limits.KELVIN_MAX:
            raise forms.ValidationError(
                f"A white is {limits.KELVIN_MIN:g} to {limits.KELVIN_MAX:g} K."
            )
        return {"white_kelvin": number}


class ChannelForm(forms.Form):
    name = forms.CharField(label="Name", max_length=CHANNEL_NAME_MAX)
    colour = ColourField(label="Colour", max_length=20)
    share_percent = NumberField(label="Share", words=("%", "percent"), low=0, high=100)


class ChannelRows(
    forms.formset_factory(
        ChannelForm,
        extra=BLANK_ROWS,
        max_num=limits.CHANNELS_MAX,
        validate_max=True,
        absolute_max=limits.CHANNELS_MAX + BLANK_ROWS,
    )
):
    """The channels of one fixture; a row cleared by hand is a channel taken out."""

    def add_fields(self, form, index):
        super().add_fields(form, index)
        form.empty_permitted = True

    def clean(self):
        if not any(self.errors):
            check_channels(self.channels())

    def channels(self):
        """Return the channels as a Fixture keeps them."""
        filled = [form.cleaned_data for form in self.forms if form.cleaned_data.get("name")]
        return [
            {"name": row["name"].strip(), **row["colour"], "share_percent": row["share_percent"]}
            for row in filled
        ]


def channel_rows(channels, *, data=None):
    """Return the ChannelRows of a fixture, bound to a POST if it holds any."""
    if data is not None and f"{PREFIX}-TOTAL_FORMS" in data:
        return ChannelRows(data, prefix=PREFIX)
    initial = [
        {"name": row["name"], "colour": colour_words(row), "share_percent": row["share_percent"]}
        for row in channels
    ]
    return ChannelRows(prefix=PREFIX, initial=initial)


def typed_channel_rows(data):
    """Return unbound ChannelRows with what was typed and more blank ones; nothing is checked."""
    text = data.get(f"{PREFIX}-TOTAL_FORMS", "")
    count = min(int(text), limits.CHANNELS_MAX) if text.isascii() and text.isdigit() else 0
    names = ("name", "colour", "share_percent")
    rows = [{name: data.get(f"{PREFIX}-{i}-{name}", "") for name in names} for i in range(count)]
    return ChannelRows(prefix=PREFIX, initial=[row for row in rows if any(row.values())])


def colour_words(row):
    """Return the colour of a channel as it is typed."""
    if row.get("peak_nm") is not None:
        return f"{row['peak_nm']:g} nm"
    return f"{row['white_kelvin']:g} K"
