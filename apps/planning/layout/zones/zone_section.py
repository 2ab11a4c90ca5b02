"""The zones of a question's form: rows made for what lives there, drawn, and what they leave."""

from collections.abc import Iterator, Sequence
from functools import cached_property

from django.core.exceptions import ValidationError

from apps.photics.ground.scene import Rock
from apps.photics.ground.scene import Tank as SceneTank
from apps.photics.layout.question import Zone
from apps.planning.layout.zones.fitted_zones import (
    FORM_ENDS,
    drawn_for_text,
    ends_cm,
    measures_of,
    numbers_of,
)
from apps.planning.layout.zones.inhabitants import Wish, usual_zones
from apps.planning.layout.zones.zone_cover import Cover, cover_of
from apps.planning.layout.zones.zone_drawing import ZoneView, draw_zones
from apps.planning.layout.zones.zone_forms import ZoneForm, ZoneRows, of_zones, zone_texts
from apps.planning.stored_layout import StoredQuestion
from apps.planning.zone_origin import PARTS

# The initial values of one row, by the names of its fields.
RowTexts = dict[str, object]


class ZoneSection:
    """What a page draws of rows of zones, and what it says of water without one."""

    def __init__(self, box: SceneTank | None, rows: ZoneRows, rocks: Sequence[Rock]) -> None:
        self.box, self.rows, self.rocks = box, rows, rocks

    @cached_property
    def drawn(self) -> list[tuple[int, Zone]]:
        """Return the zones whose range can be read, with the number of their row from 1 on."""
        return list(readable_zones(self.rows))

    @cached_property
    def views(self) -> tuple[ZoneView, ...]:
        """Return the views from above and from the front; none where no measures are known."""
        return () if self.box is None else draw_zones(self.box, self.drawn, self.rocks)

    @cached_property
    def cover(self) -> Cover | None:
        """Return what the zones leave of the floor, None before there is any."""
        if self.box is None or not self.drawn:
            return None
        return cover_of(self.box, [zone for _, zone in self.drawn])

    @property
    def stages(self) -> dict[str, object]:
        """Return what a script needs to drag zones on each view."""
        return {view.name: view.stage for view in self.views}


def readable_zones(rows: ZoneRows) -> Iterator[tuple[int, Zone]]:
    """Yield (number, Zone) of the rows whose six ends can be read; bands do not matter here."""
    for number, form in enumerate(rows.forms, start=1):
        ends = [end for end in (end_cm(form, name) for name in FORM_ENDS) if end is not None]
        if form["DELETE"].value() or len(ends) < len(FORM_ENDS):
            continue
        x, y, depth = zip(ends[::2], ends[1::2], strict=True)
        if all(low < high for low, high in (x, y, depth)):
            name = str(form["name"].value() or "")
            yield number, Zone(name, x, y, depth, low_umol=1.0, high_umol=2.0)


def end_cm(form: ZoneForm, name: str) -> float | None:
    """Return one end of a row [cm], None where it can't be read."""
    value = form[name].value()
    if isinstance(value, float | int):
        return float(value)
    try:
        length: float | None = form.fields[name].to_python(value)
    except ValidationError:
        return None
    return length


def lived_rows(
    wished: Sequence[Wish],
    box: SceneTank,
    *,
    full_hours: float,
    typed: Sequence[RowTexts] = (),
) -> list[RowTexts]:
    """Return rows for what shall live in a box, and of those typed what a hand has moved.

    A row of a kind that is still wished for stays, laid anew where it follows the measures.
    """
    known = {str(row.get("lives") or ""): row for row in typed}
    rows = []
    for zone, origin in usual_zones(wished, full_hours=full_hours, box=box):
        fresh = zone_texts(zone, origin)
        before = known.pop(origin.lives, None)
        if before is None:
            rows.append(fresh)
        elif before.get("parts"):
            rows.append(before | {name: fresh[name] for name in ("parts", *FORM_ENDS)})
        else:
            rows.append(before)
    own = [row for row in typed if row in known.values() and not row.get("parts")]
    return [*rows, *(row for row in own if row.get("name"))]


def stored_rows(stored: StoredQuestion, box: SceneTank) -> list[RowTexts]:
    """Return the rows of a stored question; those that follow are laid over the tank of today."""
    rows = []
    for zone, origin in of_zones(stored.question.zones, stored.origins):
        row = zone_texts(zone, origin)
        parts = numbers_of(row.get("parts"), PARTS)
        if parts is not None:
            row |= ends_cm(parts, measures_of(box))
        else:
            ends = {name: float(str(row[name])) for name in FORM_ENDS}
            row["drawn_for"] = drawn_for_text(ends, measures_of(stored.question.tank))
        rows.append(row)
    return rows
