"""Stored layout plans: every older form is read, nothing is left out, odd ones are refused."""

import copy
import json
from dataclasses import MISSING, fields, is_dataclass

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from apps.photics.ground.measured_optic import ANGLES_DEG, MeasuredOptic
from apps.photics.ground.scene import Brace, Rock, Tank, Window
from apps.photics.ground.shape import OUTLINE
from apps.photics.layout.advice.spectrum_wish import SpectrumWish
from apps.photics.layout.fixes import Fix
from apps.photics.layout.hanging import HungKind, Layout
from apps.photics.layout.question import Candidate, Limits, Question, Zone
from apps.photics.layout.search import Rated, State
from apps.photics.rig.fixture_light import OutputEstimate
from apps.photics.rig.tank_optics import USUAL_LAW, TankLaw
from apps.planning.stored_layout import (
    StoredQuestion,
    read_question,
    read_state,
    read_zone,
    write_question,
    write_state,
    zone_document,
)
from apps.planning.zone_origin import ZoneOrigin
from tests.factories import make_plan
from tests.paths import DATA

OLDER = sorted((DATA / "stored_layouts").glob("*.json"))
# All of a question, nothing of it as it is when left out.
OPTIC = MeasuredOptic((tuple([1.5] * len(ANGLES_DEG)),))
EVERYTHING = StoredQuestion(
    Question(
        tank=Tank(
            60.0, 50.0, 40.0, back_pane="dark", bottom="sand", shape=OUTLINE, bow_cm=4.0,
            outline_cm=((0.0, 0.0), (60.0, 0.0), (60.0, 50.0), (0.0, 50.0)),
            braces=(Brace(0.0, 20.0, 60.0, 8.0, 0.9),),
            overflow=Rock(0.0, 40.0, 0.0, 10.0, 9.0, 39.0),
            cover_transmission=0.9, window=Window("left", 12.0),
        ),
        zones=(Zone("Rock", (10.0, 50.0), (10.0, 40.0), (8.0, 20.0), 150.0, 300.0, weight=2.0,
                    high_is_soft=True),),
        candidates=(
            Candidate(
                "Panel", "panel", 20.0, 15.0, (110.0, 55.0),
                OutputEstimate(40.0, 36.0, 44.0, "a survey of 2 May 2026", measured=True),
                watts=45.0, price=200.0, owned=1, optic=OPTIC, optic_beam_deg=110.0,
                emitter="lens", kept_at_cm=((20.0, 30.0),), kept_height_cm=18.0, turn_deg=90.0,
                tilt_deg=5.0,
            ),
        ),
        limits=Limits((15.0, 25.0), (1.0, 60.0), (2.0, 50.0), 2, fill_count=1, budget=500.0,
                      watts=120.0, canopy=True),
        rocks=(Rock(20.0, 15.0, 22.0, 20.0, 14.0, 18.0),),
        law=TankLaw((-5.5, -0.05, -1.5), (0.4, 0.02, 0.3)),
    ),
    sources=("own:7",),
    day_hours=9.5,
    price_kwh=0.31,
    surveyed_on=read_question(json.loads(OLDER[-1].read_text())["asked"]).surveyed_on,
    origins=(ZoneOrigin("sps@all", (0.1, 0.9, 0.2, 0.8, 0.2, 0.5), (7.0, 14.0)),),
    renewals=(35.0,),
    wish=SpectrumWish(blue=(0.4, 0.6), green=(0.1, 0.5), red=(0.05, 0.3)),
)  # fmt: skip
MIXED = Layout((
    HungKind(0, 110.0, ((10.0, 20.0), (30.0, 20.0)), 18.0, level=0.8),
    HungKind(1, 120.0, ((20.0, 5.0),), 16.0, level=0.4),
))  # fmt: skip
WORKED_ON = State(
    step=4,
    scored=90,
    screened=(Rated(MIXED, 0.7), Rated(MIXED.at_levels((0.5, 0.5)), 0.6)),
    refined=(Rated(Layout(MIXED.hung[:1]), 0.75),),
    fixes=(Fix("deeper", (0.5, 0.9), 0.7),),
)


# What the tank of a plan of before tanks had a shape is written with now.
OPEN_BOX = {
    "shape": "box", "bow_cm": 0.0, "outline_cm": [], "braces": [], "overflow": None,
    "cover_transmission": 1.0, "window": None,
}  # fmt: skip


def left_out(record):
    """Return the fields of a record, and of those in it, that are as when left out."""
    same = []
    for field in fields(record):
        value = getattr(record, field.name)
        default = field.default
        if field.default_factory is not MISSING:
            default = field.default_factory()
        if default is not MISSING and value == default:
            same.append(f"{type(record).__name__}.{field.name}")
        parts = value if isinstance(value, tuple) else (value,)
        same += [name for part in parts if is_dataclass(part) for name in left_out(part)]
    return same


@pytest.mark.parametrize("record", [EVERYTHING, WORKED_ON], ids=["question", "state"])
def test_the_records_compared_leave_nothing_out(record):
    # A field that is new in a record must be told here, and so be stored.
    assert left_out(record) == []


def test_everything_of_a_question_comes_back():
    stored = json.loads(json.dumps(write_question(EVERYTHING)))
    assert read_question(stored) == EVERYTHING


def test_everything_of_a_search_comes_back():
    stored = json.loads(json.dumps(write_state(WORKED_ON, stopped=True)))
    assert read_state(stored) == WORKED_ON
    assert (stored["stopped"], stored["finished"]) == (True, False)


def test_a_zone_comes_back_alone():
    (zone,) = EVERYTHING.question.zones
    assert read_zone(json.loads(json.dumps(zone_document(zone)))) == zone


@pytest.mark.parametrize("path", OLDER, ids=lambda path: path.stem)
def test_what_was_stored_before_is_written_again_as_it_was(path):
    before = json.loads(path.read_text())
    filled = copy.deepcopy(before["asked"])
    usual = {"means": list(USUAL_LAW.means), "deviations": list(USUAL_LAW.deviations)}
    filled["question"].setdefault("law", usual)
    filled["question"]["tank"] |= OPEN_BOX
    filled.setdefault("surveyed_on", None)
    filled.setdefault("origins", [])
    filled.setdefault("renewals", [])
    filled.setdefault("wish", None)
    for candidate in filled["question"]["candidates"]:
        candidate.setdefault("optic", None)
        candidate.setdefault("optic_beam_deg", 0.0)
        usual = {"emitter": "", "kept_at_cm": [], "kept_height_cm": 0.0, "turn_deg": 0.0}
        candidate |= usual | {"tilt_deg": 0.0} | candidate
        output = candidate["output"]
        output["measured"] = output["words"] == "a survey over this tank"
    for zone in filled["question"]["zones"]:
        zone.setdefault("high_is_soft", False)
    filled["version"] = 2
    assert write_question(read_question(before["asked"])) == filled
    state = read_state(before["answer"])
    assert read_state(write_state(state)) == state
    for key in ("screened", "refined"):
        then = [one["layout"] for one in before["answer"][key]]
        now = [rated.layout for rated in getattr(state, key)]
        assert [list(map(list, one.hung[0].places_cm)) for one in now] == [
            one["places_cm"] for one in then
        ]
        assert [one.levels[-1] for one in now] == [
            one["level"] if one["choice"]["fill"] is None else one["fill_level"] for one in then
        ]


@pytest.mark.parametrize("path", OLDER, ids=lambda path: path.stem)
def test_the_page_of_a_plan_of_before_shows_its_answers(as_user, owner, path):
    plan = make_plan(owner, None, **json.loads(path.read_text()))
    page = as_user(owner).get(reverse("layout_detail", args=[plan.pk]))
    best = page.context["page"].answers[0]
    assert best.number == 1 and best.kinds[0][1] == "Small panel"


@pytest.mark.parametrize(
    ("keys", "value"),
    [
        (("version",), 3),
        (("question",), []),
        (("question", "tank", "length_cm"), "60"),
        (("question", "tank", "length_cm"), True),
        (("question", "limits", "count"), 1.5),
        (("question", "limits", "canopy"), 1),
        (("question", "zones", 0, "x_cm"), [1.0]),
        (("question", "zones", 0, "name"), None),
        (("question", "law", "means"), [1.0, 2.0]),
        (("sources",), "own:7"),
        (("origins", 0, "parts"), [0.1, 0.9]),
        (("origins", 0, "dli_mol"), [7.0]),
        (("surveyed_on",), "the day before"),
    ],
)
def test_a_question_with_an_odd_part_is_refused(keys, value):
    stored = json.loads(json.dumps(write_question(EVERYTHING)))
    part = stored
    for key in keys[:-1]:
        part = part[key]
    part[keys[-1]] = value
    with pytest.raises(ValidationError):
        read_question(stored)


@pytest.mark.parametrize("key", ["version", "step", "screened", "fixes"])
def test_an_answer_with_a_part_missing_is_refused(key):
    stored = write_state(WORKED_ON)
    del stored[key]
    with pytest.raises(ValidationError):
        read_state(stored)


def test_a_search_that_was_not_begun_starts_fresh():
    assert read_state({}) == State()
