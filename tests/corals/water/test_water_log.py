"""The water log: who may see and write it, what bad input meets, and what an import reads."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.common.numbers import UnreadableNumber
from apps.corals.models import WaterEvent
from apps.corals.water.amounts import read_amount
from apps.corals.water.importing import parse_events
from apps.corals.water.views import EVENTS_A_PAGE
from tests.factories import make_coral, make_water_event

FORM = {
    "kind": "alkalinity", "value": "8,2", "unit": "dKH", "text": "after the new salt",
    "happened_at": "2026-05-03T18:30", "could_hurt": "False",
}  # fmt: skip


def url(name, *args):
    return reverse(f"water_event_{name}", args=args)


def check(client, tank, text, **more):
    return client.post(url("import", tank.pk), {"text": text, "check": "1"} | more)


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_those_let_in_read_the_log(request, as_user, tank, who):
    make_water_event(tank)
    page = as_user(request.getfixturevalue(who)).get(url("list", tank.pk)).content.decode()
    assert "heater stuck" in page and "29.5" in page


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_others_may_not_write(request, as_user, tank, who, status):
    client, event = as_user(request.getfixturevalue(who)), make_water_event(tank)
    urls = [url("new", tank.pk), url("import", tank.pk)]
    urls += [url(name, event.pk) for name in ("edit", "remove", "restore")]
    assert {client.post(u, FORM).status_code for u in urls} == {status}
    event.refresh_from_db()
    assert event.text == "heater stuck" and event.removed_at is None


def test_stranger_finds_no_log(as_user, stranger, tank):
    assert as_user(stranger).get(url("list", tank.pk)).status_code == 404


def test_viewer_sees_no_buttons_to_write(as_user, viewer, tank):
    event = make_water_event(tank)
    page = as_user(viewer).get(url("list", tank.pk)).content.decode()
    assert url("edit", event.pk) not in page and url("new", tank.pk) not in page


@pytest.mark.parametrize("who", ["owner", "co_keeper"])
def test_keeper_enters_a_reading(request, as_user, tank, who):
    tank.time_zone = "America/New_York"
    tank.save()
    user = request.getfixturevalue(who)
    as_user(user).post(url("new", tank.pk), FORM)
    event = WaterEvent.objects.get()
    assert (event.value, event.unit, event.could_hurt) == (8.2, "dKH", False)
    assert event.happened_at == dt.datetime(2026, 5, 3, 22, 30, tzinfo=dt.UTC)
    assert event.created_by == user


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("kind", ""),
        ("kind", "weather"),
        ("value", "much"),
        ("value", "-1"),
        ("unit", ""),
        ("happened_at", "2999-01-01T00:00"),
        ("happened_at", "0001-01-01T00:00"),
        ("could_hurt", ""),
    ],
)
def test_bad_entry_is_told_and_keeps_what_was_typed(as_user, owner, tank, field, value):
    answer = as_user(owner).post(url("new", tank.pk), FORM | {field: value})
    page, errors = answer.content.decode(), answer.context["form"].errors
    assert answer.status_code == 422 and list(errors) == [field] and errors[field][0] in page
    assert 'value="after the new salt"' in page and not WaterEvent.objects.exists()


def test_unit_without_a_value_and_something_else_without_words_are_refused(as_user, owner, tank):
    data = FORM | {"value": "", "text": "", "kind": "other"}
    form = as_user(owner).post(url("new", tank.pk), data).context["form"]
    assert set(form.errors) == {"value", "text"}


def test_undo_takes_a_new_entry_back_and_brings_a_removed_one_again(as_user, owner, tank):
    client, event = as_user(owner), make_water_event(tank)
    page = client.post(url("remove", event.pk), follow=True).content.decode()
    assert url("restore", event.pk) in page and not WaterEvent.objects.present().exists()
    client.post(url("restore", event.pk))
    assert WaterEvent.objects.present().count() == 1


def test_list_shows_one_kind_or_what_could_hurt(as_user, owner, tank):
    make_water_event(tank)
    make_water_event(tank, kind="alkalinity", text="weekly test", unit="dKH", could_hurt=False)
    client = as_user(owner)
    alkalinity = client.get(url("list", tank.pk) + "?kind=alkalinity").content.decode()
    harmful = client.get(url("list", tank.pk) + "?kind=hurt").content.decode()
    assert "weekly test" in alkalinity and "heater stuck" not in alkalinity
    assert "weekly test" not in harmful and "heater stuck" in harmful


def test_long_log_comes_in_pages(as_user, owner, tank):
    for i in range(EVENTS_A_PAGE + 1):
        make_water_event(tank, text=f"no. {i}", happened_at=timezone.now() - dt.timedelta(days=i))
    page = as_user(owner).get(url("list", tank.pk)).content.decode()
    assert "1 of 2" in page and f"no. {EVENTS_A_PAGE}<" not in page


def test_coral_timeline_shows_water_events(as_user, owner, tank):
    make_water_event(tank)
    coral = make_coral(tank)
    page = as_user(owner).get(reverse("coral_detail", args=[coral.pk])).content.decode()
    assert "row--water" in page and "temperature 29.5 °C, heater stuck" in page


def test_import_reads_a_header_in_any_order(tank):
    text = "kind;could hurt;date;value;note\nKH;;2026-03-01;8,2 dKH;\ntemp;yes;4.3.2026;29;stuck"
    parsed = parse_events(text.replace("29;", "29 °C;"), tank=tank)
    first, second = [line.event for line in parsed.good]
    assert (first.kind, first.value, first.unit, first.could_hurt) == ("alkalinity", 8.2, "dKH", 0)
    assert (second.kind, second.text, second.could_hurt) == ("temperature", "stuck", True)
    assert second.happened_at.date() == dt.date(2026, 3, 4) and not parsed.bad


def test_import_without_a_header_goes_by_order(tank):
    (line,) = parse_events("2026-03-01 21:30,nitrate,12,mg/L", tank=tank).good
    event = line.event
    assert (event.kind, event.value, event.text) == ("nutrients", 12, "nitrate")
    assert event.happened_at == dt.datetime(2026, 3, 1, 21, 30, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("line", "kind", "told"),
    [
        ("2026-03-01,nitrate,5,mg/L,weekly", "nutrients", "5 mg/L, nitrate, weekly"),
        ("2026-03-01,Salinity,35,ppt", "salinity", "35 ppt"),
        ("2026-03-01,Ca,420,mg/L", "calcium", "420 mg/L"),
        ("2026-03-01,Magnesium,1350,mg/L", "other", "1350 mg/L, Magnesium"),
        ("2026-03-01,pH,8.1", "ph", "pH 8.1"),
        ("2026-03-01,nutrients,5,mg/L,weekly", "nutrients", "5 mg/L, weekly"),
    ],
)
def test_import_keeps_the_name_of_what_was_read_beside_its_note(tank, line, kind, told):
    (result,) = parse_events(line, tank=tank).good
    assert result.event.kind == kind and result.event.in_words().endswith(told)


def test_import_shows_before_saving_what_stands_there_already(as_user, owner, tank):
    line = "2026-03-01,kh,8,dKH"
    client = as_user(owner)
    client.post(url("import", tank.pk), {"text": line, "import": "1"})
    shown = check(client, tank, f"{line}\n2026-03-02,kh,8,dKH\n2026-03-02,kh,8,dKH").context
    shown = shown["shown"]
    assert (shown["good"], shown["new_count"], shown["known_count"]) == (3, 1, 2)
    assert [row["is_new"] for row in shown["first_good"]] == [False, True, False]
    page = check(client, tank, line)
    assert page.context["shown"]["new_count"] == 0 and 'name="import"' not in page.content.decode()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("03/04/2026,temp", "two ways"),
        ("2026-13-01,temp", "not a date"),
        (",temp", "Has no date"),
        ("2026-03-01,weather", "none of the kinds"),
        ("2026-03-01,kh,much,dKH", "not a number"),
        ("2026-03-01,kh,8", "in which unit"),
        ("2026-03-01,kh,-8,dKH", "At least 0"),
        ("2026-03-01,pH,82", "between 4 and 11"),
        ("2026-03-01,salinity,35,SG", "between 0.99 and 1.06"),
        ("2026-03-01,calcium,4200,mg/L", "between 0 and 1500"),
        ("2999-03-01,kh,8,dKH", "in the future"),
        ("2026-03-01,pest,,,worms,maybe", "yes or no"),
        ("2026-03-01,pest,,,worms, many, yes", "7 columns where 6 fit"),
    ],
)
def test_import_names_what_is_wrong_with_a_line(tank, line, said):
    parsed = parse_events(f"2026-03-01,kh,8,dKH\n{line}", tank=tank)
    (bad,) = parsed.bad
    assert said in bad.problem and bad.number == 2 and len(parsed.good) == 1


def test_import_checks_first_then_saves_the_good_and_keeps_the_bad(as_user, owner, tank):
    client, text = as_user(owner), "2026-03-01,kh,8,dKH\nsoon,pest,,,worms"
    shown = check(client, tank, text).context["shown"]
    assert (shown["good"], shown["bad"]) == (1, 1) and not WaterEvent.objects.exists()
    sent = {"text": "2026-03-01,kh,8,dKH", "bad": "soon,pest,,,worms", "import": "1"}
    page = client.post(url("import", tank.pk), sent)
    assert page.context["counts"]["added"] == 1 and "soon,pest,,,worms" in page.content.decode()
    assert WaterEvent.objects.get().created_by == owner


def test_import_sent_twice_adds_once(as_user, owner, tank):
    client, sent = as_user(owner), {"text": "2026-03-01,kh,8,dKH", "import": "1"}
    client.post(url("import", tank.pk), sent)
    page = client.post(url("import", tank.pk), sent, follow=True).content.decode()
    assert "1 already there" in page and WaterEvent.objects.count() == 1


@pytest.mark.parametrize("text", ["", "\n;;\n", "PK\x03\x04\x00"])
def test_import_of_no_table_is_told(as_user, owner, tank, text):
    answer = check(as_user(owner), tank, text)
    assert answer.status_code == 422 and "field__error" in answer.content.decode()


@pytest.mark.parametrize(
    ("dates", "days"),
    [
        (["03/01/2026", "03/13/2026"], [(3, 1), (3, 13)]),
        (["03/02/2026", "13/02/2026"], [(2, 3), (2, 13)]),
    ],
    ids=["month first", "day first"],
)
def test_import_reads_all_dates_by_one_order(tank, dates, days):
    parsed = parse_events("\n".join(f"{date},kh,8,dKH,12/25/2025" for date in dates), tank=tank)
    read = [line.event.happened_at for line in parsed.good]
    assert [(at.month, at.day) for at in read] == days and not parsed.bad


def test_import_names_lines_of_two_orders(tank):
    parsed = parse_events("03/13/2026,kh,8,dKH\n13/03/2026,kh,8,dKH", tank=tank)
    assert len(parsed.bad) == 2
    parsed = parse_events("03/13/2026,kh,8,dKH\n13/03/2026,kh,8,dKH", tank=tank, dates="month")
    assert [line.number for line in parsed.bad] == [2] and parsed.dates == "month"


def test_import_takes_the_chosen_order_of_dates(as_user, owner, tank):
    line, client = "03/04/2026,kh,8,dKH", as_user(owner)
    page = client.post(url("import", tank.pk), {"text": line}).content.decode()
    assert 'name="dates"' in page and "two ways" in page
    client.post(url("import", tank.pk), {"text": line, "dates": "day", "import": "1"})
    happened = tank.water_events.get().happened_at
    assert (happened.month, happened.day) == (4, 3)


@pytest.mark.parametrize(
    ("cell", "value", "unit"),
    [
        ("1 350 mg/l", 1350, "mg/l"), ("1'350 ppm", 1350, "ppm"), ("1\u00a0350 ppm", 1350, "ppm"),
        ("1 350", 1350, ""),
    ],
)  # fmt: skip
def test_thousands_of_an_amount_may_be_parted(cell, value, unit):
    assert read_amount(cell) == (value, unit, "")


@pytest.mark.parametrize(
    ("cell", "value", "unit"),
    [
        ("8.2 to 8.4", 8.3, ""), ("8.0…8.2 dKH", 8.1, "dKH"), ("8,0..8,2 dKH", 8.1, "dKH"),
        ("8.0 ... 8.2", 8.1, ""), ("420 To 430 mg/L", 425, "mg/L"), ("420 — 430", 425, ""),
        ("8.1 ± 0.1 dKH", 8.1, "dKH"),
    ],
)  # fmt: skip
def test_a_range_is_taken_by_its_middle_and_kept_in_words(cell, value, unit):
    assert read_amount(cell) == (pytest.approx(value), unit, cell)


@pytest.mark.parametrize(
    "cell",
    ["8.2 or 8.4", "8.2dKH 0.05", "8.2/8.4", "8.2 (8.4)", "8.2 dKH, 8.4 dKH", "8.2or8.4",
     "1 350-400", "1'350 to 400 mg/L", "8.2 …"],
)  # fmt: skip
def test_more_than_one_number_in_an_amount_is_refused(cell):
    with pytest.raises(UnreadableNumber):
        read_amount(cell)


@pytest.mark.parametrize("unit", ["mg/m3", "mg/m^3", "ppm CaCO3", "NO3-N", "µmol m-3", "mg/m³"])
def test_a_digit_that_belongs_to_a_unit_stays(unit):
    assert read_amount(f"8.2 {unit}") == (8.2, unit, "")


def test_a_range_beside_a_column_of_units_is_read(tank):
    parsed = parse_events("2026-03-01;calcium;420 to 430;mg/L", tank=tank)
    (line,) = parsed.good
    assert (line.event.value, line.event.unit) == (425, "mg/L")


@pytest.mark.parametrize("cell", ["1.350", "1.350 mg/L", "<1.350", "1.350-1.400"])
@pytest.mark.parametrize("sign", [";", "\t"])
def test_thousands_by_a_point_are_refused_beside_decimal_commas(tank, cell, sign):
    rows = [["2026-03-01", "alkalinity", "8,2", "dKH"], ["2026-03-01", "magnesium", cell, "mg/L"]]
    parsed = parse_events("\n".join(map(sign.join, rows)), tank=tank)
    assert [line.event.value for line in parsed.good] == [8.2]
    (bad,) = parsed.bad
    assert bad.number == 2 and "1350" in bad.problem and "1,3500" in bad.problem


@pytest.mark.parametrize("cell", ["1350", "1 350", "1350,0"])
def test_thousands_written_plainly_stay_beside_decimal_commas(tank, cell):
    text = f"2026-03-01;alkalinity;8,2;dKH\n2026-03-01;magnesium;{cell};mg/L"
    assert [line.event.value for line in parse_events(text, tank=tank).good] == [8.2, 1350]


def test_three_decimals_stay_where_no_value_has_a_decimal_comma(tank):
    text = "2026-03-01;salinity;1.026;SG;for 8,2 dKH\n2026-03-01;kh;8.2;dKH"
    parsed = parse_events(text, tank=tank)
    assert [line.event.value for line in parsed.good] == [1.026, 8.2]
