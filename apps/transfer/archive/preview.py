"""What a zip holds, said before anything of it is stored."""

import datetime as dt
from dataclasses import dataclass, field

from apps.accounts.models import User
from apps.corals.models import Coral, HealthNote, Photo, WaterEvent
from apps.lighting.models import Fixture, LightChange
from apps.planning.models import Acclimation, Plan
from apps.surveys.models import Meter, Reading, Survey
from apps.tanks.models import Tank
from apps.transfer.archive import form
from apps.transfer.archive.account_in import inner_names, inner_zip
from apps.transfer.archive.form import Unfit, UnfitZip
from apps.transfer.archive.opening import OpenedZip
from apps.transfer.archive.reading_rows import StatedRow, stated_rows
from apps.transfer.archive.restoring import free_name
from apps.transfer.archive.tables import table_name
from apps.transfer.models import TankImport

NOUNS = {
    Survey: ("survey", "surveys"),
    Reading: ("reading", "readings"),
    LightChange: ("light change", "light changes"),
    Coral: ("coral", "corals"),
    HealthNote: ("note", "notes"),
    Photo: ("photo", "photos"),
    WaterEvent: ("water log entry", "water log entries"),
    Plan: ("plan", "plans"),
    Acclimation: ("acclimation", "acclimations"),
    Fixture: ("lamp", "lamps"),
    Meter: ("meter", "meters"),
}


@dataclass(frozen=True)
class ZipPreview:
    """One tank, or what is a keeper's own (no name), as a zip states it."""

    name: str
    size_cm: tuple[float, ...]
    counts: list[str]
    made_at: dt.datetime | None
    is_deleted: bool = False
    lost_photos: int = 0
    # Tanks that this keeper made of the same content before.
    known: list[Tank] = field(default_factory=list)
    # Others of this keeper by the same name, and what the one that comes in would be called.
    namesakes: list[Tank] = field(default_factory=list)
    name_here: str = ""


def previews(opened: OpenedZip, keeper: User) -> list[ZipPreview]:
    """Return what a zip holds, tank by tank, or raise UnfitZip."""
    if opened.manifest.kind != form.ACCOUNT:
        return [_preview(opened, keeper)]
    result = []
    for name in inner_names(opened):
        with inner_zip(opened, name) as inner:
            result.append(_preview(inner, keeper))
    return [one for one in result if one.name or one.counts]


def _preview(opened: OpenedZip, keeper: User) -> ZipPreview:
    if opened.manifest.kind not in (form.TANK, form.OWN):
        raise UnfitZip(Unfit.KIND, "This zip holds something that is not known here.")
    tank = _tank(opened)
    counts = ((_count(opened, table_name(model)), *nouns) for model, nouns in NOUNS.items())
    records = TankImport.objects.filter(keeper=keeper, digest=opened.manifest.digest)
    known = [r.tank for r in records.filter(tank__removed_at=None).select_related("tank")]
    name = str(tank.values["name"]) if tank else ""
    namesakes = Tank.objects.filter(owner=keeper, removed_at=None, name=name)
    return ZipPreview(
        name=name,
        size_cm=tuple(tank.values[f"{side}_cm"] for side in SIDES) if tank else (),
        counts=[f"{n:,} {one if n == 1 else many}" for n, one, many in counts if n],
        made_at=_moment(opened.manifest.made_at),
        is_deleted=bool(tank and tank.values.get("removed_at")),
        lost_photos=opened.manifest.lost_photos,
        known=known,
        namesakes=list(namesakes.exclude(pk__in=[one.pk for one in known])),
        name_here=free_name(name, keeper),
    )


SIDES = ("length", "width", "depth")


def _tank(opened: OpenedZip) -> StatedRow | None:
    if opened.manifest.kind == form.OWN:
        return None
    rows = list(stated_rows(Tank, opened.json("rows/tank.json")))
    needed = {"name", *(f"{side}_cm" for side in SIDES)}
    if len(rows) != 1 or needed - rows[0].values.keys():
        raise UnfitZip(Unfit.TANKS, "This zip holds no tank, or more than one.")
    return rows[0]


def _count(opened: OpenedZip, table: str) -> int:
    name = f"rows/{table}.json"
    rows = opened.json(name) if name in opened.names() else []
    return len(rows) if isinstance(rows, list) else 0


def _moment(text: str) -> dt.datetime | None:
    try:
        result = dt.datetime.fromisoformat(text)
    except ValueError:
        return None
    return result if result.tzinfo else None
