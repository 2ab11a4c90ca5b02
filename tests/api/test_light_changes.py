"""A light change over the API carries the whole state after it, by the rules of its form."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.api import light_views
from apps.common.validation import FILL_IN
from apps.lighting.hanging import remove_light_change
from apps.lighting.history import light_history
from apps.lighting.models import HungFixture, LightChange
from apps.lighting.rig import rig_in_force
from apps.photics.limits import FIXTURES_MAX
from tests.api.light_change_bodies import NOW, api, days_ago, entry, url
from tests.factories import hang, make_day_curve, make_fixture, make_light_change
from tests.lighting.change.test_light_log import new_url
from tests.lighting.fixture.test_rig import row_of, rows

CHANNELS = [
    {"name": "Blue", "peak_nm": 450, "share_percent": 60},
    {"name": "White", "white_kelvin": 10000, "share_percent": 40},
]
PLACE = {"x_cm": 30, "y_cm": 25, "height_cm": 20}


@pytest.fixture
def panel(owner):
    return make_fixture(owner, channels=CHANNELS)


@pytest.fixture
def client(owner):
    return api(owner)


@pytest.fixture
def post(client, tank):
    """Send a change of the tank by its owner; return its JSON."""

    def send(*args, **fields):
        response = client.post(url(tank), entry(*args, **fields), format="json")
        assert response.status_code == 201, response.data
        return response.json()

    return send


@pytest.fixture
def hung(post, panel):
    """Two panels, hung 50 days ago; the second at 80 %."""
    one, two = {"fixture": panel.pk} | PLACE, {"fixture": panel.pk, "level_percent": 80} | PLACE
    return post(50, one, two)


def rig(tank, days=0):
    return {
        row.number: (row.height_cm, row.level_percent) for row in rig_in_force(tank, days_ago(days))
    }


# --- What is written -------------------------------------------------------------------------


def test_fixtures_are_hung_with_all_that_can_be_set(post, tank, panel):
    set_too = {"turn_deg": 90, "tilt_deg": -9, "beam_deg": 55, "level_percent": 70}
    stated = PLACE | set_too | {"loss_percent": 4}
    levels = {"channel_levels": {"Blue": 50, "White": 100}}
    assert set(stated | levels) == set(HungFixture.SETTINGS)
    change = post(9, {"fixture": panel.pk} | stated | levels)
    (row,) = change["hung"]
    assert change["tells_rig"] and row["number"] == 1 and row["fixture"] == panel.pk
    assert {name: row[name] for name in stated} == stated
    # A channel at full level is one that is not named.
    assert row["channel_levels"] == {"Blue": 50} and row["light_percent"] == pytest.approx(49)
    assert HungFixture.objects.get().told == ["hung"]


def test_row_tells_only_what_it_changes(post, tank, hung):
    change = post(10, {"number": 1, "height_cm": 33})
    assert rig(tank) == {1: (33, 100), 2: (20, 80)}
    stated = dict(HungFixture.objects.filter(change=change["id"]).values_list("number", "told"))
    assert stated == {1: ["height_cm"], 2: []}


def test_entry_dated_back_is_followed_and_undone(post, tank, hung):
    post(10, {"number": 1, "level_percent": 60})
    raised = post(30, {"number": 1, "height_cm": 33, "level_percent": 90})
    assert (rig(tank, 20)[1], rig(tank)[1]) == ((33, 90), (33, 60))
    remove_light_change(change=LightChange.objects.get(pk=raised["id"]))
    assert (rig(tank, 20)[1], rig(tank)[1]) == ((20, 100), (20, 60))


def test_dated_back_a_row_names_what_hung_then(client, post, tank, panel, hung):
    post(10, taken_down=[1])
    assert rig(tank) == {2: (20, 80)}
    post(30, {"number": 1, "height_cm": 33})
    assert (rig(tank, 20), rig(tank)) == ({1: (33, 100), 2: (20, 80)}, {2: (20, 80)})
    late = client.post(url(tank), entry(5, {"number": 1, "height_cm": 9}), format="json")
    assert late.status_code == 400 and "number" in late.data["errors"]["hung"][0]


def test_change_is_edited_and_later_ones_follow(client, post, tank, hung):
    raised = post(30, {"number": 1, "height_cm": 33}, {"number": 2, "height_cm": 33})
    post(10, {"number": 1, "level_percent": 60})
    body = {"hung": [{"number": 1, "height_cm": 40}], "happened_at": days_ago(20).isoformat()}
    assert client.patch(url(tank, raised["id"]), body, format="json").status_code == 200
    assert rig(tank, 25) == {1: (20, 100), 2: (20, 80)}
    # What the entry told of the other one, it still tells.
    assert rig(tank) == {1: (40, 60), 2: (33, 80)}


@pytest.mark.parametrize("is_new", [True, False])
def test_a_level_stated_holds_against_another_edit_at_once(
    client, post, tank, hung, monkeypatch, is_new
):
    dimmed = post(30, {"number": 1, "level_percent": 90})
    raised = post(10, {"number": 1, "height_cm": 33})
    stated, usual = {"number": 1, "level_percent": 90}, light_views.hold_tanks

    def after_another(pks):
        monkeypatch.setattr(light_views, "hold_tanks", usual)
        body = {"hung": [stated | {"level_percent": 60}]}
        assert client.patch(url(tank, dimmed["id"]), body, format="json").status_code == 200
        return usual(pks)

    monkeypatch.setattr(light_views, "hold_tanks", after_another)
    if is_new:
        post(5, stated)
    else:
        client.patch(url(tank, raised["id"]), {"hung": [stated]}, format="json")
    assert (rig(tank, 20)[1], rig(tank)[1]) == ((20, 60), (33, 90))


def test_answer_sent_back_changes_nothing(client, post, tank, hung):
    post(30, {"number": 1, "height_cm": 33}, taken_down=[2])
    change = client.get(url(tank)).json()["results"][0]
    before = list(HungFixture.objects.order_by("pk").values("pk", "told"))
    answer = client.put(url(tank, change["id"]), change, format="json")
    assert answer.json() == change
    assert list(HungFixture.objects.order_by("pk").values("pk", "told")) == before


def test_taken_down_is_told_and_taken_back(client, post, tank, hung):
    change = post(10, taken_down=[2])
    assert change["taken_down"] == [2] and rig(tank) == {1: (20, 100)}
    patched = client.patch(url(tank, change["id"]), {"hung": [{"number": 1, "height_cm": 9}]})
    assert patched.data["taken_down"] == [2] and rig(tank) == {1: (9, 100)}
    client.patch(url(tank, change["id"]), {"taken_down": []})
    assert rig(tank) == {1: (9, 100), 2: (20, 80)}


def test_all_taken_down_is_nothing_hangs(post, tank, hung):
    post(10, taken_down=[1, 2])
    assert rig(tank) == {} and light_history(tank).lamps_at(NOW) == ()


def test_another_fixture_takes_the_place_of_one(post, tank, owner, hung):
    bar = make_fixture(owner, name="Bar")
    change = post(10, {"number": 2, "fixture": bar.pk})
    assert change["taken_down"] == [2]
    assert [(r["number"], r["name"], r["level_percent"]) for r in change["hung"]] == [
        (1, "Panel", 100),
        (3, "Bar", 80),
    ]


def test_change_without_rows_leaves_the_rig(client, post, tank, hung):
    change = post(10)
    assert not change["tells_rig"] and change["hung"] == []
    client.patch(url(tank, change["id"]), {"summary": "Wiped"}, format="json")
    assert rig(tank) == {1: (20, 100), 2: (20, 80)}


def test_co_keeper_moves_what_the_owner_hung(co_keeper, tank, panel, hung):
    moved = entry(10, {"number": 1, "fixture": panel.pk, "x_cm": 40})
    assert api(co_keeper).post(url(tank), moved, format="json").status_code == 201
    assert rig_in_force(tank, NOW)[0].x_cm == 40


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_others_hang_nothing(request, tank, who, status):
    user = request.getfixturevalue(who)
    body = entry(10, {"fixture": make_fixture(user).pk} | PLACE)
    change = make_light_change(tank)
    assert api(user).post(url(tank), body, format="json").status_code == status
    assert api(user).patch(url(tank, change.pk), body, format="json").status_code == status
    assert not HungFixture.objects.exists()


def test_many_rows_take_no_more_queries(client, tank, panel):
    counts = []
    for many in (1, FIXTURES_MAX // 2):
        body = entry(9, *[{"fixture": panel.pk} | PLACE] * many)
        with CaptureQueriesContext(connection) as queries:
            assert client.post(url(tank), body, format="json").status_code == 201
        # The throttle's counting goes on in its own table.
        counts.append(sum("shared_cache" not in query["sql"] for query in queries))
    assert counts[1] <= counts[0] + 1


def test_change_starts_day_curves_beside_what_it_hangs(post, tank, panel):
    blue = make_day_curve(tank, name="Blue", group="blue", share_percent=None)
    white = make_day_curve(
        tank, name="White", group="white", share_percent=None, points=[[600, 100], [1080, 100]]
    )
    change = post(9, {"fixture": panel.pk} | PLACE, starts=[blue.pk, white.pk])
    assert [(d["name"], d["day_curve"]) for d in change["days"]] == [
        ("Blue", blue.pk),
        ("White", white.pk),
    ]
    # Ten hours of blue's 60 % and eight of white's 40 %.
    assert light_history(tank).schedule_at(NOW).full_hours == pytest.approx(9.2)


def test_rig_of_a_removed_fixture_is_still_told(client, tank, owner):
    panel = make_fixture(owner)
    hang(make_light_change(tank), panel)
    panel.delete()
    (change,) = client.get(url(tank)).data["results"]
    (number,) = (row["number"] for row in change["hung"])
    assert change["hung"][0]["fixture"] is None
    moved = client.post(url(tank), entry(1, {"number": number, "fixture": None, "x_cm": 9}))
    assert moved.status_code == 201 and rig_in_force(tank, NOW)[0].x_cm == 9


# --- What is refused, as in the form ---------------------------------------------------------

FAR = [name for name in HungFixture.SETTINGS if name != "channel_levels"]
BAD = [
    *(({name: 1e6}, name) for name in FAR),
    *(({name: -1e6}, name) for name in FAR),
    ({"height_cm": "high"}, "height_cm"),
    ({"height_cm": ""}, "height_cm"),
    ({"x_cm": 91}, "x_cm"),
    ({"y_cm": -31}, "y_cm"),
    ({"beam_deg": 4}, "beam_deg"),
    ({"level_percent": 101}, "level_percent"),
    ({"tilt_deg": -76}, "tilt_deg"),
    ({"tilt_deg": 75, "height_cm": 3}, "height_cm"),
    ({"fixture": 987654}, "fixture"),
    ({"fixture": 10**30}, "fixture"),
    ({"fixture": None}, "fixture"),
]
IDS = [f"{field}-{next(iter(stated.values()))}" for stated, field in BAD]


@pytest.mark.parametrize(("stated", "field"), BAD, ids=IDS)
def test_bad_row_is_told_at_its_field(client, tank, panel, stated, field):
    good = {"fixture": panel.pk} | PLACE
    response = client.post(url(tank), entry(9, good, good, good | stated), format="json")
    assert response.status_code == 400 and not LightChange.objects.exists()
    ((index, row),) = response.data["errors"]["hung"].items()
    assert index == 2 and list(row) == [field] and row[field]


@pytest.mark.parametrize(("stated", "field"), BAD, ids=IDS)
def test_same_bad_row_is_told_at_its_cell(as_user, owner, tank, panel, stated, field):
    typed = {name: "" if value is None else str(value) for name, value in stated.items()}
    data = rows(row_of(panel), row_of(panel), row_of(panel) | typed)
    response = as_user(owner).post(new_url(tank), data)
    assert response.status_code == 422 and not LightChange.objects.exists()
    first, second, third = response.context["rows"].errors[:3]
    assert not first and not second and list(third) == [field]


def test_foreign_fixture_is_told_like_none(client, stranger, tank):
    answers = [
        client.post(url(tank), entry(9, {"fixture": pk} | PLACE), format="json").data["errors"]
        for pk in (make_fixture(stranger).pk, 987654)
    ]
    assert answers[0] == answers[1] and "library" in answers[0]["hung"][0]["fixture"][0]


@pytest.mark.parametrize(
    ("sent", "where"),
    [
        ([{"number": 1}, {"number": 1, "x_cm": 9}], ("hung", 1, "number")),
        ([{"number": 7}], ("hung", 0, "number")),
        ([{"number": 1, "channel_levels": {"Red": 50}}], ("hung", 0, "channel_levels")),
        ([{"number": 1, "channel_levels": {"Blue": 140}}], ("hung", 0, "channel_levels")),
        ([{"number": 1, "channel_levels": {"Blue": 10**400}}], ("hung", 0, "channel_levels")),
        ([{"number": 1, "channel_levels": [5]}], ("hung", 0, "channel_levels")),
        ([{"number": 1, "x_cm": None}], ("hung", 0, "x_cm")),
        ([{"number": 1, "x_cm": True}], ("hung", 0, "x_cm")),
        ([{"x_cm": 5}], ("hung", 0, "fixture")),
        ([5], ("hung", 0, "non_field_errors")),
        ([None], ("hung", 0, "non_field_errors")),
        ("x", ("hung", "non_field_errors")),
    ],
)
def test_odd_rows_are_refused(client, tank, hung, sent, where):
    response = client.post(url(tank), entry(9) | {"hung": sent}, format="json")
    stated = response.data["errors"]
    for step in where:
        stated = stated[step]
    assert response.status_code == 400 and stated and LightChange.objects.count() == 1


def test_rows_needed_of_a_new_fixture_are_named(client, tank, panel):
    response = client.post(url(tank), entry(9, {"fixture": panel.pk, "x_cm": 5}), format="json")
    needed = [FILL_IN]
    assert response.data["errors"]["hung"] == {0: {"y_cm": needed, "height_cm": needed}}


@pytest.mark.parametrize(("down", "said"), [([7], "under number 7"), ([1], "in a row too")])
def test_numbers_that_cannot_come_down_are_told(client, tank, hung, down, said):
    body = entry(9, {"number": 1, "x_cm": 5}, taken_down=down)
    answer = client.post(url(tank), body, format="json")
    assert answer.status_code == 400 and said in answer.data["errors"]["taken_down"][0]


@pytest.mark.parametrize("down", ["x", [None], [1.5], {"a": 1}])
def test_taken_down_is_a_list_of_numbers(client, tank, hung, down):
    answer = client.post(url(tank), entry(9, taken_down=down), format="json")
    assert answer.status_code == 400 and "taken_down" in answer.data["errors"]


def test_more_than_can_hang_is_refused(client, tank, panel, hung):
    new = [{"fixture": panel.pk} | PLACE] * (FIXTURES_MAX - 1)
    answer = client.post(url(tank), entry(9, *new), format="json")
    assert f"At most {FIXTURES_MAX}" in answer.data["errors"]["hung"]["non_field_errors"][0]


def test_all_that_is_wrong_is_told_at_once(client, tank, hung):
    body = entry(9, {"number": 1, "x_cm": 500}, factor=1, day_hours=8, ramp_hours=5)
    answer = client.post(url(tank), body | {"taken_down": [9]}, format="json")
    assert {"ramp_hours", "hung", "taken_down"} == set(answer.data["errors"])


def test_what_cannot_be_read_is_told_beside_what_cannot_be(client, tank, panel, hung):
    body = entry(
        9,
        {"number": 1, "height_cm": "high", "x_cm": 500},
        {"number": "one", "x_cm": 500},
        {"fixture": panel.pk, "height_cm": None, "y_cm": 9},
        {"number": 2, "level_percent": 101},
        5,
        {"number": 2, "y_cm": 500},
    )
    stated = client.post(url(tank), body, format="json").data["errors"]["hung"]
    assert {index: sorted(row) for index, row in stated.items()} == {
        0: ["height_cm", "x_cm"],
        1: ["number"],
        2: ["height_cm", "x_cm"],
        3: ["level_percent"],
        4: ["non_field_errors"],
        5: ["number"],
    }
    assert stated[2]["height_cm"][0].code == "null"
    # Without a moment it is not known what hung; what is odd in itself is told all the same.
    late = client.post(url(tank), body | {"happened_at": "late"}, format="json").data["errors"]
    assert "happened_at" in late and set(late["hung"]) == {0, 1, 2, 3, 4}
