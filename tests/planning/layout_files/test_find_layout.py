"""The find_layout command: a question in, answers out, and one line for every fault."""

import json
import subprocess
import sys
from io import StringIO

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from apps.photics.layout.question import Zone
from apps.planning.layout_files.question_json import question_of_data
from tests.paths import ROOT
from tests.planning.layout_files.questions import (
    PANEL,
    QUESTION,
    question,
    with_fixture,
    with_zone,
)

ANSWER_KEYS = {"fixtures", "zones", "price", "watts"}
FIXTURE_KEYS = {"name", "x_cm", "y_cm", "height_cm", "turn_deg", "beam_deg", "level"}
ZONE_KEYS = {
    "name", "x_cm", "y_cm", "depth_cm", "low_umol", "high_umol", "share_percent",
    "surely_percent", "perhaps_percent", "mean_umol", "mean_low_umol", "mean_high_umol",
}  # fmt: skip


def run(folder, data):
    """Return the answers that the command writes to a file."""
    path, out = folder / "question.json", folder / "answers.json"
    path.write_text(data if isinstance(data, str) else json.dumps(data, indent=1))
    call_command("find_layout", str(path), out=str(out), stdout=StringIO())
    return json.loads(out.read_text())


def refusal(folder, data):
    """Return the one line a question is refused with."""
    with pytest.raises(CommandError) as problem:
        run(folder, data)
    assert problem.value.returncode == 2
    return str(problem.value)


@pytest.fixture(scope="module")
def answers(tmp_path_factory):
    """The answers to a question of usual zones, by the command line, with no database."""
    folder = tmp_path_factory.mktemp("layout")
    path, out = folder / "question.json", folder / "answers.json"
    path.write_text(json.dumps(QUESTION))
    command = [sys.executable, "manage.py", "find_layout", path, "--out", out]
    subprocess.run(command, cwd=ROOT, check=True)
    return json.loads(out.read_text())


def test_answers_have_the_keys_that_programs_read(answers):
    assert isinstance(answers["served"], bool)
    assert 0 <= answers["recommended"] < len(answers["answers"])
    for answer in answers["answers"]:
        assert answer.keys() >= ANSWER_KEYS
        assert all(one.keys() >= FIXTURE_KEYS for one in answer["fixtures"])
        assert all(zone.keys() >= ZONE_KEYS for zone in answer["zones"])


def test_what_hangs_is_of_the_question_and_within_its_limits(answers):
    for answer in answers["answers"]:
        assert 1 <= len(answer["fixtures"]) <= 2
        for one in answer["fixtures"]:
            assert one["name"] == "Panel" and one["beam_deg"] in PANEL["beams_deg"]
            assert 15 <= one["height_cm"] <= 35 and 0 < one["level"] <= 1
            assert 0 <= one["x_cm"] <= 60 and 0 <= one["y_cm"] <= 60


def test_shares_and_means_lie_in_order(answers):
    for zone in (zone for answer in answers["answers"] for zone in answer["zones"]):
        shares = [zone[f"{name}_percent"] for name in ("surely", "share", "perhaps")]
        assert shares == sorted(shares) and 0 <= shares[0] <= shares[-1] <= 100
        assert zone["mean_low_umol"] < zone["mean_umol"] < zone["mean_high_umol"]


def test_the_price_is_of_what_is_missing(tmp_path):
    owned = run(tmp_path, with_fixture(owned=2))
    assert {answer["price"] for answer in owned["answers"]} == {0}
    unknown = run(tmp_path, with_fixture(price=None))
    assert {answer["price"] for answer in unknown["answers"]} == {None}


def test_a_budget_bounds_the_price(tmp_path):
    answers = run(tmp_path, question(limits={"count": 2, "budget": 400}))
    assert {len(answer["fixtures"]) for answer in answers["answers"]} == {1}


def test_watts_are_those_at_the_level_it_burns(answers):
    for answer in answers["answers"]:
        burned = sum(one["level"] * PANEL["watts"] for one in answer["fixtures"])
        assert answer["watts"] == pytest.approx(burned, abs=0.1)


@pytest.mark.parametrize("size", [(45, 45, 45), (180, 60, 60)])
def test_usual_zones_follow_the_tanks_own_measures(size):
    tank = dict(zip(("length_cm", "width_cm", "depth_cm"), size, strict=True))
    zones = question_of_data(question(tank=tank)).question.zones
    for side, ends in zip(size, ("x_cm", "y_cm", "depth_cm"), strict=True):
        spans = np.array([getattr(zone, ends) for zone in zones]) / side
        assert (spans[:, 0] > 0).all() and (spans[:, 1] < 1).all()
        if ends != "depth_cm":
            assert spans.sum(axis=1) == pytest.approx(1.0, abs=0.01)


def test_the_day_turns_daily_light_into_par():
    nine, twelve = (question_of_data(question(day_hours=h)).question.zones for h in (9, 12))
    # 6.5 mol m-2 d-1 over 9 h are 201 umol m-2 s-1, over 12 h 150: told to 5.
    assert (nine[0].low_umol, twelve[0].low_umol) == (200, 150)


def test_a_low_zone_has_no_top_and_says_above_what_it_asks_for_care(answers):
    high, low, _ = answers["answers"][0]["zones"]
    assert (high["high_umol"], high["caution_umol"]) == (350, None)
    assert (low["high_umol"], low["caution_umol"]) == (None, 150)


def test_a_zone_of_ones_own_may_have_no_top(tmp_path):
    answers = run(tmp_path, with_zone(high_umol=None))
    assert {zone["high_umol"] for one in answers["answers"] for zone in one["zones"]} == {None}


def test_a_zone_of_ones_own_comes_back_as_it_was(tmp_path):
    (zone,) = run(tmp_path, with_zone())["answers"][0]["zones"]
    assert zone["x_cm"] == [10, 50] and (zone["low_umol"], zone["high_umol"]) == (150, 300)


def test_watts_alone_leave_the_light_wide_open(tmp_path):
    def width(data):
        zone = run(tmp_path, data)["answers"][0]["zones"][0]
        return zone["mean_high_umol"] / zone["mean_low_umol"]

    assert width(with_fixture(output_umol=None)) > 1.2 * width(with_fixture())


def test_too_small_a_budget_says_what_it_buys_first_of_what_would_serve(tmp_path):
    weak = {"output_umol": 60, "price": 300}
    small, ample = (
        run(tmp_path, with_fixture(**weak) | {"limits": {"count": 3, "budget": budget}})
        for budget in (350, 900)
    )
    assert ample["served"] and ample["beyond_budget"] is None
    assert not small["served"]
    beyond = small["beyond_budget"]
    assert beyond["price"] > 350
    in_budget = [step["in_budget"] for step in beyond["buy_first"]]
    assert in_budget[0] and not in_budget[-1]


OLD = PANEL | {"hangs_at": [{"x_cm": 30, "y_cm": 20, "height_cm": 25, "turn_deg": 90}]}


def test_what_hangs_and_stays_is_in_every_answer(tmp_path):
    answers = run(tmp_path, question(fixtures=[OLD], limits={"count": 2}))["answers"]
    for answer in answers:
        at = [(one["x_cm"], one["y_cm"], one["height_cm"], one["turn_deg"])
              for one in answer["fixtures"]]  # fmt: skip
        assert (30, 20, 25, 90) in at
        assert answer["price"] == 300 * (len(at) - 1)


def test_what_to_buy_first_ends_with_the_whole_price(tmp_path):
    answers = run(tmp_path, question(fixtures=[OLD], limits={"count": 2}))["answers"]
    for answer in answers:
        assert [step["total"] for step in answer["buy_first"]][-1:] == [answer["price"]][
            : len(answer["buy_first"])
        ]
    assert any(answer["buy_first"] for answer in answers)


def test_what_hangs_in_no_answer_is_named_with_the_limit(tmp_path):
    dear = PANEL | {"name": "Dear", "price": 9000}
    out = run(tmp_path, question(fixtures=[PANEL, dear], limits={"count": 2, "budget": 700}))
    assert out["left_out"] == [{"name": "Dear", "reason": "budget"}]


def test_a_question_with_no_answer_says_why(tmp_path):
    out = run(tmp_path, question(limits={"count": 2, "budget": 1}))
    assert (out["served"], out["recommended"], out["answers"]) == (False, None, [])
    assert out["left_out"] == [{"name": "Panel", "reason": "budget"}]


REFUSED = [
    ("not JSON", "{"),
    ("one JSON object", "[]"),
    ("tank", question(tank=None)),
    ("tank", question(tank="box")),
    ("length_cm", question(tank={"width_cm": 60, "depth_cm": 50})),
    ("depth_cm", question(tank={"length_cm": 60, "width_cm": 60, "depth_cm": -5})),
    ("length_cm", question(tank={"shape": "cylinder", "radius_cm": 10**400, "depth_cm": 50})),
    ("zones", question(zones=None)),
    ("zones", question(zones="all")),
    ("zones", question(zones=[])),
    ("zones", question(zones=[3])),
    ("name", with_zone(name=None)),
    ("x_cm", with_zone(x_cm=None)),
    ("x_cm", with_zone(x_cm=[10])),
    ("x_cm", with_zone(x_cm=[50, 10])),
    ("x_cm", with_zone(x_cm=[10, 70])),
    ("depth_cm", with_zone(depth_cm=["a", 20])),
    ("depth_cm", with_zone(depth_cm=[10, 10])),
    ("low_umol", with_zone(low_umol=None)),
    ("low_umol", with_zone(low_umol=0)),
    ("low_umol", with_zone(low_umol=True)),
    ("high_umol", with_zone(high_umol=150)),
    ("fixtures", question(fixtures=None)),
    ("fixtures", question(fixtures=[])),
    ("fixtures", question(fixtures={"name": "Panel"})),
    ("name", question(fixtures=[PANEL, PANEL])),
    ("name", with_fixture(name=" ")),
    ("name", with_fixture(name="Panel \ud800")),
    ("panel_x_cm", with_fixture(panel_x_cm=10**400)),
    ("panel_x_cm", with_fixture(panel_x_cm=float("nan"))),
    ("kind", with_fixture(kind="torch")),
    ("panel_x_cm", with_fixture(panel_x_cm=None)),
    ("panel_y_cm", with_fixture(panel_y_cm=0)),
    ("beams_deg", with_fixture(beams_deg=None)),
    ("beams_deg", with_fixture(beams_deg=[])),
    ("beams_deg", with_fixture(beams_deg=110)),
    ("beams_deg", with_fixture(beams_deg=[1])),
    ("output_umol", with_fixture(output_umol=None, watts=None)),
    ("output_umol", with_fixture(output_umol=-3)),
    ("watts", with_fixture(watts="much")),
    ("price", with_fixture(price=-1)),
    ("owned", with_fixture(owned=1.5)),
    ("emitter", with_fixture(emitter="mirror")),
    ("hangs_at", with_fixture(hangs_at="there")),
    ("height_cm", with_fixture(hangs_at=[{"x_cm": 3, "y_cm": 3}])),
    ("x_cm", with_fixture(hangs_at=[{"x_cm": 99, "y_cm": 3, "height_cm": 20}])),
    ("hangs_at", with_fixture(hangs_at=[{"x_cm": 3, "y_cm": 3, "height_cm": 20}] * 13)),
    ("limits", question(limits=None)),
    ("limits", question(limits=[2])),
    ("count", question(limits={})),
    ("count", question(limits={"count": 0})),
    ("height_cm", question(limits={"count": 1, "height_cm": [30, 15]})),
    ("fill_count", question(limits={"count": 1, "fill_count": -1})),
    ("budget", question(limits={"count": 1, "budget": "some"})),
    ("day_hours", question(day_hours=0)),
    ("x_cm", {**with_zone(), "tank": {**QUESTION["tank"], "rocks": [
        {"x_cm": 0, "y_cm": 0, "depth_cm": 1, "length_cm": 60, "width_cm": 60, "height_cm": 45}]}}),
]  # fmt: skip


@pytest.mark.parametrize(("key", "data"), REFUSED)
def test_bad_input_is_refused_by_the_name_of_the_key(tmp_path, key, data):
    line = refusal(tmp_path, data)
    assert key in line and "\n" not in line


def test_a_fault_names_its_line(tmp_path):
    line = refusal(tmp_path, with_zone(low_umol=0))
    text = json.dumps(with_zone(low_umol=0), indent=1).splitlines()
    number = next(n for n, row in enumerate(text, start=1) if '"low_umol"' in row)
    assert f"line {number}: zone 1: low_umol" in line


def test_what_hangs_in_the_tanks_file_is_not_asked_for(tmp_path):
    tank = QUESTION["tank"] | {"fixtures": [{"x_cm": 1, "photometric_file": "/etc/hostname"}]}
    assert run(tmp_path, question(tank=tank))["answers"]


def test_a_name_no_file_can_have_is_told(tmp_path):
    path = tmp_path / "question.json"
    path.write_text(json.dumps(QUESTION))
    with pytest.raises(CommandError, match="line 1"):
        call_command("find_layout", str(path), out=str(tmp_path))


def test_the_answers_go_to_the_screen_without_a_file(tmp_path):
    path, out = tmp_path / "question.json", StringIO()
    path.write_text(json.dumps(QUESTION))
    call_command("find_layout", str(path), stdout=out)
    assert json.loads(out.getvalue())["answers"]


def test_a_soft_edge_is_no_end_of_the_band():
    zone = Zone("low", (0, 1), (0, 1), (0, 1), 50, 150, high_is_soft=True)
    assert zone.top_umol == np.inf and zone.high_umol == 150
