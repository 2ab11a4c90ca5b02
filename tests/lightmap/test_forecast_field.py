"""The forecast_field command: a change of the fixtures, files in and a file out."""

import json
from io import StringIO

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from tests.paths import DATA

TRACED = DATA / "traced_tanks" / "case-07"


@pytest.fixture
def before():
    return json.loads((TRACED / "tank.json").read_text())


def run(folder, before, after):
    for name, tank in (("before.json", before), ("after.json", after)):
        (folder / name).write_text(json.dumps(tank, indent=1))
    out = StringIO()
    call_command(
        "forecast_field",
        str(folder / "before.json"),
        str(TRACED / "readings.csv"),
        str(folder / "after.json"),
        at=str(TRACED / "truth.csv"),
        stdout=out,
    )
    return np.genfromtxt(StringIO(out.getvalue()), delimiter=",", names=True)


def with_fixtures(tank, *fixtures):
    return tank | {"fixtures": list(fixtures)}


def test_half_the_level_halves_the_light(tmp_path, before):
    same = run(tmp_path, before, before)
    half = run(
        tmp_path, before, with_fixtures(before, *(f | {"level": 0.5} for f in before["fixtures"]))
    )
    # The file has four decimals.
    np.testing.assert_allclose(half["par_umol"], same["par_umol"] / 2, atol=1e-3)


def test_a_lid_put_on_is_a_change_of_its_transmission(tmp_path, before):
    """0.8 for 1, and less sure by 5 %: no other tank."""
    bare = run(tmp_path, before, before)
    under = run(tmp_path, before, before | {"cover_transmission": 0.8})
    np.testing.assert_allclose(under["par_umol"], 0.8 * bare["par_umol"], atol=1e-3)
    own, wider = (np.log(r["high_umol"] / r["par_umol"]) for r in (bare, under))
    np.testing.assert_allclose(wider, np.hypot(own, 1.645 * 0.05), rtol=1e-3)


def test_a_lid_taken_off_gives_the_light_back(tmp_path, before):
    covered = before | {"cover_transmission": 0.8}
    there, off = run(tmp_path, covered, covered), run(tmp_path, covered, before)
    np.testing.assert_allclose(off["par_umol"], there["par_umol"] / 0.8, atol=1e-2)


def test_a_new_fixture_takes_the_output_of_the_one_it_equals(tmp_path, before):
    one, two = before["fixtures"]
    off = run(tmp_path, before, with_fixtures(before, one | {"level": 0}, two))
    twin = two | {"new": True, "same_as": 2}
    more = run(tmp_path, before, with_fixtures(before, one | {"level": 0}, two, twin))
    # A twin in the place of the first doubles its light, but for the centimetre or so by which
    # the first hangs elsewhere than it was measured, and the shadows only the first is known by.
    assert np.median(more["par_umol"] / off["par_umol"]) == pytest.approx(2, rel=0.1)


@pytest.mark.parametrize(
    ("change", "cause"),
    [
        (lambda b: with_fixtures(b, b["fixtures"][0]), "after.json: line 6: 2 fixtures hung"),
        (lambda b: b | {"length_cm": 80}, "after.json: line 1: is another box"),
        (
            lambda b: with_fixtures(b, *(f | {"level": 0} for f in b["fixtures"])),
            "No fixture is lit after the change",
        ),
        (
            lambda b: with_fixtures(
                b, *b["fixtures"], b["fixtures"][0] | {"new": True, "same_as": 3}
            ),
            "fixture 3: same_as is 3; it must be from 1 to 2",
        ),
    ],
)
def test_a_change_that_does_not_fit_is_refused(tmp_path, before, change, cause):
    with pytest.raises(CommandError) as refused:
        run(tmp_path, before, change(before))
    assert refused.value.returncode == 2
    assert cause in str(refused.value)


def test_without_fixtures_before_nothing_is_foretold(tmp_path, before):
    with pytest.raises(CommandError) as refused:
        run(tmp_path, with_fixtures(before), before)
    assert "before.json: line 6: " in str(refused.value)
