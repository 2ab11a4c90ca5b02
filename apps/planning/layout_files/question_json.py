"""The question of a layout as JSON: read key by key, with one line for every fault.

A question is an object with `tank` (as `lightmap/field_files.py` reads it; its fixtures are not
asked for), `zones`, `fixtures` and `limits`. `zones` is "usual" or a list of objects with name,
x_cm, y_cm and depth_cm (from and to), low_umol and high_umol (null: no top). A fixture has name,
kind, panel_x_cm, panel_y_cm, beams_deg, output_umol (umol/s at full level) or watts, and if wanted
price, owned (at hand, to hang anywhere), emitter, and hangs_at: a list of x_cm, y_cm, height_cm and
turn_deg where some hang and stay, beside those owned. `limits` has count and, if wanted, height_cm
(from and to), fill_count, budget and watts; a count is at most. `day_hours` is the full light a day
that the usual zones' daily light is turned into PAR by.
"""

import math
from dataclasses import dataclass, replace

from apps.lightmap.field_files import FACE, KINDS, read_object, tank_of
from apps.lightmap.tank_json import FieldFileError, FilePath, Finder, Record, Where
from apps.photics import limits
from apps.photics.ground.scene import EMITTERS, Rock, Tank
from apps.photics.ground.usual_bands import USUAL_DAY_HOURS
from apps.photics.layout.question import Candidate, Limits, Question, Zone
from apps.photics.layout.usual_zones import usual_zones
from apps.photics.limits import PRICE_MOST
from apps.photics.rig.fixture_light import OutputEstimate, output_estimate
from apps.planning.layout_files.json_rows import Row, rows

# Rows of a question and optics of a fixture: chosen, because a search tries all of them.
ZONES_MOST, FIXTURES_MOST, BEAMS_MOST = 12, 12, 6
COUNT_MOST, FILL_MOST = 12, 4
# Heights of the lit side above the water where none are stated: chosen as lights are usually hung
# [cm].
ORDINARY_HEIGHTS_CM = (15.0, 40.0)
# The least output, watts and hours that mean anything [umol/s, W, h]: our own choice.
LEAST = 0.1
# Fixtures that hang and stay: chosen, because each is one more level to set.
KEPT_MOST = 12
HEIGHTS = (limits.FIXTURE_HEIGHT_MIN_CM, limits.FIXTURE_HEIGHT_MAX_CM)
BAND = (limits.BAND_MIN_UMOL, limits.BAND_MAX_UMOL)


# A tank's box of water and the rock in it.
Box = tuple[Tank, tuple[Rock, ...]]


@dataclass(frozen=True)
class LayoutFile:
    """A question, and the full light a day its usual zones are made for [h]."""

    question: Question
    day_hours: float


def read_layout_file(path: FilePath) -> LayoutFile:
    """Return the LayoutFile of a JSON file, or raise FieldFileError."""
    return layout_file(*read_object(path, "a question"))


def question_of_data(data: object, *, box: Box | None = None) -> LayoutFile:
    """Return the LayoutFile of decoded JSON that came without a file, or raise FieldFileError.

    With a `box` it is asked for that one, and may describe none itself.
    """
    path = "question"
    if not isinstance(data, dict):
        raise FieldFileError(path, 1, "a question must be one JSON object")
    return layout_file(Finder(path, ""), data, box=box)


def layout_file(finder: Finder, record: Record, *, box: Box | None = None) -> LayoutFile:
    """Return the LayoutFile of a question's JSON object, or raise FieldFileError."""
    tank, rocks = described_box(finder, record) if box is None else box
    if box is not None and "tank" in record:
        raise finder.fault("tank is known here: leave it out", "tank")
    hours = Row(finder, record).number(
        "day_hours", (LEAST, limits.DAY_HOURS_MAX), default=USUAL_DAY_HOURS
    )
    question = Question(
        tank=tank,
        zones=read_zones(finder, record, tank, rocks, hours),
        candidates=read_candidates(finder, record, tank),
        limits=read_limits(finder, record, tank),
        rocks=rocks,
    )
    return LayoutFile(question, hours)


def described_box(finder: Finder, record: Record) -> Box:
    """Return the Tank and the Rocks that a question describes, or raise FieldFileError."""
    box = record.get("tank")
    if not isinstance(box, dict):
        raise finder.fault("tank is missing" if box is None else "tank must be an object", "tank")
    # What hangs now and the files it names are no part of this question.
    described = tank_of(finder, {key: part for key, part in box.items() if key != "fixtures"})
    return described.tank, described.rocks


def read_zones(
    finder: Finder, record: Record, tank: Tank, rocks: tuple[Rock, ...], hours: float
) -> tuple[Zone, ...]:
    """Return the Zones of a question: the usual ones of its tank, or those it tells."""
    if record.get("zones") == "usual":
        return usual_zones(tank, full_hours=hours)
    if isinstance(record.get("zones"), str):
        raise finder.fault('zones must be "usual" or a list of objects', "zones")
    listed = rows(finder, record, "zones", noun="zone", most=ZONES_MOST)
    return tuple(read_zone(row, tank, rocks) for row in listed)


def read_zone(row: Row, tank: Tank, rocks: tuple[Rock, ...]) -> Zone:
    """Return the Zone of one row."""
    low = row.number("low_umol", BAND)
    high = row.maybe("high_umol", BAND)
    if high is not None and high <= low:
        raise row.fault("high_umol must be above low_umol", "high_umol")
    zone = Zone(
        name=row.name(),
        x_cm=row.ends("x_cm", (0.0, tank.length_cm)),
        y_cm=row.ends("y_cm", (0.0, tank.width_cm)),
        depth_cm=row.ends("depth_cm", (0.0, tank.depth_cm)),
        low_umol=low,
        high_umol=math.inf if high is None else high,
    )
    if zone.is_dry(tank, rocks):
        raise row.fault("x_cm, y_cm and depth_cm hold no open water", "x_cm")
    return zone


def read_candidates(finder: Finder, record: Record, tank: Tank) -> tuple[Candidate, ...]:
    """Return the Candidates of a question, whose names differ, those that stay behind their own."""
    listed = rows(finder, record, "fixtures", noun="fixture", most=FIXTURES_MOST)
    candidates: list[Candidate] = []
    for row in listed:
        candidate = read_candidate(row)
        if any(candidate.name == other.name for other in candidates):
            raise row.fault(f"name {candidate.name} is another's too", "name")
        candidates += [candidate.lying_over(tank), *kept_ones(row, candidate, tank)]
    staying = sum(len(one.kept_at_cm) for one in candidates)
    if staying > KEPT_MOST:
        raise finder.fault(f"hangs_at holds {staying} in all; at most {KEPT_MOST}", "hangs_at")
    return tuple(candidates)


def kept_ones(row: Row, candidate: Candidate, tank: Tank) -> list[Candidate]:
    """Return a Candidate for each height and turn at which some of a fixture hang and stay."""
    value = row.record.get("hangs_at") or []
    if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        raise row.fault("hangs_at must be a list of objects", "hangs_at")
    hung: dict[tuple[float, float], list[tuple[float, float]]] = {}
    for item in value:
        at = Row(row.finder, item, row.who, row.where)
        height = at.number("height_cm", HEIGHTS)
        turn = at.number("turn_deg", (-limits.TURN_MAX_DEG, limits.TURN_MAX_DEG), default=0.0)
        place = at.number("x_cm", (0.0, tank.length_cm)), at.number("y_cm", (0.0, tank.width_cm))
        hung.setdefault((height, turn), []).append(place)
    return [
        replace(candidate, owned=0, beams_deg=candidate.beams_deg[:1], kept_at_cm=tuple(places),
                kept_height_cm=height, turn_deg=turn)
        for (height, turn), places in hung.items()
    ]  # fmt: skip


def read_candidate(row: Row) -> Candidate:
    """Return the Candidate of one row."""
    kind = row.word("kind", KINDS, default="panel")
    watts = row.maybe("watts", (LEAST, limits.WATTS_MAX))
    beams = row.numbers("beams_deg", (limits.BEAM_MIN_DEG, limits.BEAM_MAX_DEG), most=BEAMS_MOST)
    return Candidate(
        name=row.name(),
        kind=kind,
        panel_x_cm=row.number("panel_x_cm", FACE),
        panel_y_cm=row.number("panel_y_cm", FACE),
        beams_deg=tuple(dict.fromkeys(beams)),
        output=read_output(row, kind, watts),
        watts=watts,
        price=row.maybe("price", (0.0, PRICE_MOST)),
        owned=row.whole("owned", (0, limits.FIXTURES_MAX), default=0),
        emitter=row.word("emitter", ("", *EMITTERS), default=""),
    )


def read_output(row: Row, kind: str, watts: float | None) -> OutputEstimate:
    """Return the OutputEstimate of a fixture's stated output, else of its watts."""
    ppf = row.maybe("output_umol", (LEAST, limits.PPF_MAX_UMOL_S))
    estimate = output_estimate(
        kind="tube" if kind == "tube" else "led", watts=watts, ppf_umol_s=ppf
    )
    if estimate is None:
        raise row.fault("output_umol or watts is missing", "output_umol")
    return estimate


def read_limits(finder: Finder, record: Record, tank: Tank) -> Limits:
    """Return the Limits of a question; fixtures may hang anywhere over the tank."""
    data = record.get("limits")
    if not isinstance(data, dict):
        cause = "limits is missing" if data is None else "limits must be an object"
        raise finder.fault(cause, "limits")
    row = Row(finder, data, "limits: ", Where(within="limits"))
    heights = ORDINARY_HEIGHTS_CM
    if data.get("height_cm") is not None:
        heights = row.ends("height_cm", HEIGHTS, may_be_one=True)
    return Limits(
        height_cm=heights,
        x_cm=(0.0, tank.length_cm),
        y_cm=(0.0, tank.width_cm),
        count=row.whole("count", (1, COUNT_MOST)),
        fill_count=row.whole("fill_count", (0, FILL_MOST), default=0),
        budget=row.maybe("budget", (0.0, PRICE_MOST)),
        watts=row.maybe("watts", (0.0, limits.WATTS_MAX)),
    )
