"""A rig that was tried over a living tank, and kept as a plan of it."""

from collections.abc import Sequence
from dataclasses import dataclass

from apps.common.moments import day_text
from apps.lighting.change.address import typed_of
from apps.lighting.change.title import rig_title
from apps.lighting.models import HungFixture
from apps.planning.documents import Document
from apps.planning.layout.zones.zone_forms import OriginalZone
from apps.planning.models import Plan
from apps.planning.stored_layout import origin_document, zone_document
from apps.planning.what_if.live_light import LiveLight, numbered
from apps.planning.what_if.what_if import WhatIf, what_if
from apps.planning.zone_origin import ZoneOrigin

VERSION = 1
# Where the plane lies before a depth is chosen, as a share of the water [1]: chosen about a rock's
# top.
USUAL_DEPTH_SHARE = 0.4


@dataclass(frozen=True)
class TriedRig:
    """A rig that could be tried: at which depth, over which zones, and what it changes."""

    depth_cm: float
    rows: list[HungFixture]
    zones: tuple[OriginalZone, ...]
    changed: WhatIf


def tried_rig(
    live: LiveLight,
    rows: Sequence[HungFixture],
    *,
    depth_cm: float,
    zones: tuple[OriginalZone, ...],
) -> TriedRig:
    """Return what HungFixtures would give over a tank, its plane at a depth [cm].

    Raises ValueError with a sentence where nothing would shine.
    """
    changed = what_if(live, rows, depth_cm=depth_cm, zones=[zone for zone, _ in zones])
    return TriedRig(depth_cm, list(rows), zones, changed)


def keep_tried(*, plan: Plan, tried: TriedRig) -> None:
    """Save a plan, new or not, with what was tried; raises ValidationError."""
    plan.asked, plan.answer = question_document(tried), answer_document(tried.changed)
    plan.full_clean()
    plan.save()


def usual_name(live: LiveLight, tried: TriedRig, unit: str) -> str:
    """Return what a saved what-if is called that nobody named: what it does, else its day."""
    most = Plan._meta.get_field("name").max_length
    does = rig_title(live.rows, numbered(tried.rows), unit=unit)
    day = live.now.astimezone(live.tank.zone).date()
    return does if does and len(does) <= most else f"What-if, {day_text(day)}"


def question_document(tried: TriedRig) -> Document:
    """Return the stored form of what was tried: the plane's depth, the rig and the zones."""
    return {
        "version": VERSION,
        "depth_cm": tried.depth_cm,
        "rows": [typed_of(row) for row in tried.rows],
        "zones": [zone_document(zone) for zone, _ in tried.zones],
        "origins": [origin_document(origin or ZoneOrigin()) for _, origin in tried.zones],
    }


def answer_document(changed: WhatIf) -> Document:
    """Return the stored form of a WhatIf: what is left of it where no map is."""
    return {
        "version": VERSION,
        "corals": [
            {"name": c.coral.name, "now_umol": c.now.par_umol, "then_umol": c.then.par_umol}
            for c in changed.corals
        ],
        "zones": [
            {"zone": z.zone, "band": f"{z.low_umol:g}–{z.high_umol:g}",
             "now_percent": z.now_percent, "then_percent": z.then_percent}
            for z in changed.zones
        ],
    }  # fmt: skip
