"""The levels of a hung fixture's channels, as cells of its row in a form."""

from apps.common.units import NumberField
from apps.lighting.optic_models import below_full
from apps.photics.limits import LEVEL_MAX_PERCENT

CELL = "channel_"


def level_key(fixture_pk, index):
    """Return the name of a channel's cell; another fixture chosen in a row has other cells."""
    return f"{CELL}{fixture_pk or 0}_{index}"


def level_cells(fixture_pk, channels, levels):
    """Return what the cells of a fixture's channels show, by name."""
    return {
        level_key(fixture_pk, index): level_text(levels.get(row["name"], LEVEL_MAX_PERCENT))
        for index, row in enumerate(channels)
    }


def level_text(level):
    return f"{level:.6g}"


def add_level_fields(form, fixture_pk, channels):
    """Give a row's form one cell a channel, full level where nothing else is stated."""
    form.level_fields = {level_key(fixture_pk, i): row["name"] for i, row in enumerate(channels)}
    for key, name in form.level_fields.items():
        form.fields[key] = NumberField(
            label=name, words=("%", "percent"), low=0, high=LEVEL_MAX_PERCENT, required=False,
            initial=f"{LEVEL_MAX_PERCENT:g}",
        )  # fmt: skip


def levels_said(form):
    """Return the levels a row's cells tell, {name: %} of those below full; None where none came.

    An address or a page that shows no channels leaves them as they were. A blank cell is full,
    and one left as it was shown keeps the level that is stored, to its last digit.
    """
    if not any(form.add_prefix(key) in form.data for key in form.level_fields):
        return None
    stored = form.hanging.channel_levels if form.hanging is not None else {}
    said = {}
    for key, name in form.level_fields.items():
        text = form.data.get(form.add_prefix(key), "").strip()
        untouched = name in stored and text == level_text(stored[name])
        said[name] = stored[name] if untouched else form.cleaned_data.get(key)
    return below_full({name: level for name, level in said.items() if level is not None})
