"""A change that no words were typed for is titled by what it did, and follows an edit of it."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.lighting.change.title import rig_reason, rig_title, saved_title
from apps.lighting.models import HungFixture, LightChange
from tests.factories import hang, make_fixture, make_light_change

Reason = LightChange.Reason


def lamp(number=1, **fields):
    facts = {
        "name": "Puck", "kind": "puck", "lit_length_cm": 8, "lit_width_cm": 8, "own_beam_deg": 90,
        "x_cm": 30, "y_cm": 30, "height_cm": 20, "level_percent": 60,
    }  # fmt: skip
    return HungFixture(number=number, **(facts | fields))


def pair(**fields):
    return [lamp(1, **fields), lamp(2, **fields)]


@pytest.mark.parametrize(
    ("before", "after", "title", "reason"),
    [
        ([lamp()], [lamp(level_percent=80)], "Puck turned up to 80 %", Reason.LEVEL),
        (pair(), pair(level_percent=48), "Both lamps turned down to 48 %", Reason.LEVEL),
        ([lamp(1, level_percent=100), lamp(2)],
         [lamp(1, level_percent=80), lamp(2, level_percent=48)],
         "Both lamps 20 % dimmer", Reason.LEVEL),
        ([lamp()], [lamp(height_cm=12)], "Puck lowered by 8 cm", Reason.LOWERED),
        ([lamp()], [lamp(height_cm=33, level_percent=80)],
         "Puck raised by 13 cm and turned up to 80 %", Reason.RAISED),
        (pair(), [lamp(1), lamp(2, height_cm=25)], "Puck 2 raised by 5 cm", Reason.RAISED),
        (pair(), [lamp(1, height_cm=15), lamp(2, height_cm=25)],
         "Puck 1 lowered by 5 cm; Puck 2 raised by 5 cm", Reason.MOVED),
        ([lamp()], [lamp(x_cm=20)], "Puck moved 10 cm to the left", Reason.MOVED),
        ([lamp()], [lamp(beam_deg=60)], "Puck changed to a 60° lens", Reason.LENS),
        ([lamp()], pair(), "Puck 2 hung", Reason.HUNG),
        (pair(), [lamp(1)], "Puck 2 taken down", Reason.HUNG),
        ([lamp()], [lamp(name="Bar")], "Bar replaced", Reason.HUNG),
        ([lamp()], [lamp(x_cm=1, y_cm=2, height_cm=3, level_percent=4)],
         "Puck changed in several ways", Reason.RAISED),
        ([lamp(1, level_percent=100), lamp(2, level_percent=90)],
         [lamp(1, level_percent=99.8), lamp(2, level_percent=90.2)],
         "Puck 1 turned down to 99.8 %; Puck 2 turned up to 90.2 %", Reason.LEVEL),
        ([lamp()], [lamp()], "", Reason.OTHER),
        (None, [lamp()], "Puck hung", Reason.HUNG),
    ],
)  # fmt: skip
def test_a_change_says_what_was_done_with_its_number_and_is_of_that_kind(
    before, after, title, reason
):
    assert rig_title(before, after, unit="cm") == title
    if title != "Puck changed in several ways":
        assert rig_reason(before, after) == reason


def test_lengths_are_in_the_readers_unit():
    assert rig_title([lamp()], [lamp(height_cm=14.92)], unit="in") == "Puck lowered by 2 in"


def test_what_is_too_much_for_a_line_is_left_to_the_kind():
    before = [lamp(k) for k in range(1, 6)]
    after = [lamp(k, height_cm=20 + k) for k in range(1, 6)]
    assert rig_title(before, after, unit="cm") == ""


@pytest.fixture
def hung(owner, tank):
    """Two panels at 100 %, hung a month ago."""
    panel, change = make_fixture(owner), make_light_change(tank, factor=1, summary="Hung")
    for number in (1, 2):
        hang(change, panel, number=number, x_cm=15 * number)
    return change


def done(client, tank, what, **fields):
    address = f"{reverse('light_change_done', args=[tank.pk])}?what={what}"
    client.post(address, {"happened_at": "", "summary": "", "number": "", **fields})
    return tank.light_changes.latest("pk")


def moment(tank):
    return timezone.now().astimezone(tank.zone).strftime("%Y-%m-%dT%H:%M")


@pytest.mark.parametrize(
    ("what", "fields", "title"),
    [
        ("level", {"percent": "80"}, "Both lamps turned down to 80 %"),
        ("lowered", {"by_cm": "8", "number": "2"}, "Panel 2 lowered by 8 cm"),
        ("cleaned", {"percent": "5"}, "Cleaned: 5 % more light"),
        ("cleaned", {"percent": ""}, "Cleaned"),
    ],
)
def test_what_was_done_titles_its_entry(as_user, owner, tank, hung, what, fields, title):
    change = done(as_user(owner), tank, what, happened_at=moment(tank), **fields)
    assert saved_title(change, unit="cm") == title
    assert change.summary == ""


def test_a_keepers_own_words_stay(as_user, owner, tank, hung):
    typed = {"happened_at": moment(tank), "summary": "Too bright", "percent": "80"}
    assert done(as_user(owner), tank, "level", **typed).title == "Too bright"


def test_words_that_nobody_typed_follow_an_edit_and_typed_ones_do_not(as_user, owner, tank, hung):
    client = as_user(owner)
    change = done(client, tank, "level", happened_at=moment(tank), percent="80")
    address = reverse("light_change_edit", args=[change.pk])

    def edited(level, **more):
        page = client.get(address)
        form, rows = page.context["form"], page.context["rows"]
        fields = {f"{rows.prefix}-TOTAL_FORMS": "2", f"{rows.prefix}-INITIAL_FORMS": "0"}
        for bound in [form, *rows.forms[:2]]:
            for field in bound:
                value = field.value()
                fields[field.html_name] = "" if value in (None, False) else str(value)
        for number in range(2):
            fields[f"{rows.prefix}-{number}-level_percent"] = level
        fields["happened_at"] = moment(tank)
        saved = client.post(address, fields | more)
        assert saved.status_code == 302
        change.refresh_from_db()
        return saved_title(change, unit="cm")

    assert edited("70") == "Both lamps turned down to 70 %"
    assert edited("65", summary="Far too bright") == "Far too bright"
    assert edited("60") == "Far too bright"


def test_an_entry_of_before_is_titled_in_the_log_too(as_user, owner, tank, hung):
    change = make_light_change(
        tank, factor=1, summary="", reason="level", happened_at=hung.created_at
    )
    for number in (1, 2):
        hang(change, owner.fixtures.get(), number=number, x_cm=15 * number, level_percent=80)
    page = as_user(owner).get(reverse("light_change_list", args=[tank.pk]))
    entry = next(e for e in page.context["log"].entries if e.change.pk == change.pk)
    assert entry.title == "Both lamps turned down to 80 %"
    effect = as_user(owner).get(reverse("light_change_effect", args=[change.pk]))
    assert effect.context["entry"].title == entry.title


def test_a_title_stays_true_where_an_earlier_change_is_entered_later(as_user, owner, tank, hung):
    change = done(as_user(owner), tank, "lowered", happened_at=moment(tank), by_cm="8", number="2")
    (old,) = change.hung.filter(number=2).values_list("height_cm", flat=True)
    between = make_light_change(
        tank, factor=1, summary="Between", happened_at=change.happened_at - dt.timedelta(days=1)
    )
    for number, height in ((1, old + 8), (2, old + 3)):
        hang(between, owner.fixtures.get(), number=number, x_cm=15 * number, height_cm=height)
    assert saved_title(change, unit="cm") == "Panel 2 lowered by 3 cm"
