"""Values no honest program sends: each is answered with a sentence, none with a crash."""

import json

import pytest

from apps.lighting.models import HungFixture
from tests.api.test_access import NEW, OF_CORAL, of_coral, of_tank
from tests.factories import hang, make_coral, make_light_change

TOP = {
    "tanks": {"name": "Cube", "length_cm": 40, "width_cm": 40, "depth_cm": 35},
    "meters": {"label": "Club meter", "correction_factor": 1.0},
    "fixtures": {
        "name": "Panel", "lit_length_cm": 20, "lit_width_cm": 20, "beam_deg": 90,
        "channels": [{"name": "blue", "peak_nm": 450, "share_percent": 100}],
    },
}  # fmt: skip
# As they stand in the body: some are no values of Python.
VALUES = [
    "NaN", "Infinity", "1e999", "1" + "0" * 400, "-1", "1e308", '"\\u0000"', '"\\ud800"', "{}",
    "[]", "[[1]]", f"[[1{'0' * 400}, 1], [2, 2]]", "[[480, 1e308], [600, 100], [1200, 0]]",
    f'[{{"name": "b", "peak_nm": 1{"0" * 400}, "share_percent": 100}}]',
    f'[{{"name": "b", "peak_nm": 450, "share_percent": 1{"0" * 400}}}]',
    '[{"name": [], "peak_nm": "x", "share_percent": 100}]', "true", "null",
    '"0001-01-01"', '"9999-12-31"', '"0001-01-01T00:00:00Z"', '"9999-12-31T23:59:59-12:00"',
    '"' + "x" * 100_000 + '"', '"²"',
]  # fmt: skip


def every_address(tank):
    coral = make_coral(tank)
    yield from ((f"/api/v1/{kind}/", body) for kind, body in TOP.items())
    yield from ((of_tank(tank, kind), body) for kind, body in NEW.items())
    yield from ((of_coral(coral, kind), body) for kind, body in OF_CORAL.items())


@pytest.mark.parametrize("value", VALUES, ids=lambda value: value[:24])
def test_a_hostile_value_is_no_crash(as_user, owner, tank, value):
    client, stated = as_user(owner), "a value that stands in its place"
    for address, body in every_address(tank):
        stored = []
        for name in body:
            text = json.dumps(body | {name: stated}).replace(f'"{stated}"', value)
            answer = client.post(address, text, content_type="application/json")
            assert answer.status_code in (201, 400), (address, name, answer.content)
            stored += [name] * (answer.status_code == 201)
        # What was taken in can be read: all of it at once, as lists are.
        assert client.get(address).status_code == 200, (address, stored)


@pytest.mark.parametrize("value", VALUES, ids=lambda value: value[:24])
def test_a_hostile_value_in_a_hung_row_is_no_crash(as_user, owner, tank, value):
    client, stated = as_user(owner), "a value that stands in its place"
    hang(make_light_change(tank))
    address, stored = of_tank(tank, "light-changes"), []
    for name in ("number", "fixture", *HungFixture.SETTINGS):
        body = NEW["light-changes"] | {
            "happened_at": tank.today().isoformat() + "T00:00:00Z",
            "hung": [{"number": 1, name: stated}],
        }
        text = json.dumps(body).replace(f'"{stated}"', value)
        answer = client.post(address, text, content_type="application/json")
        assert answer.status_code in (201, 400), (name, answer.content)
        stored += [name] * (answer.status_code == 201)
    assert client.get(address).status_code == 200, stored
