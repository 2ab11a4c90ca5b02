"""A logger's series: read in many forms, summed by days at the tank, next to the plan; who may."""

import datetime as dt
import zoneinfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from apps.common.tables.reading import UnreadableTable
from apps.lightmap.channels import log_forms
from apps.lightmap.channels.logged_days import logged_days
from apps.surveys.models import LoggedSeries
from apps.surveys.tables import log_reading
from apps.surveys.tables.log_reading import UnsureDates, parse_log
from tests.factories import make_light_change, make_survey

BERLIN = zoneinfo.ZoneInfo("Europe/Berlin")
WANTED = dt.datetime(2026, 3, 14, 14, 30, tzinfo=BERLIN).timestamp()
FORMS = {
    "iso": "time;par\n2026-03-14 14:30;212,5\n2026-03-14 14:40;210",
    "iso with seconds and T": "2026-03-14T14:30:00,212.5\n2026-03-14T14:40:00,210",
    "offset": "2026-03-14T13:30:00+00:00;212.5\n2026-03-14T13:40:00+00:00;210",
    "points": "Datum\tPAR\n14.03.2026 14:30\t212,5\n14.03.2026 14:40\t210",
    "slashes, day first": "14/03/2026 14:30;212.5\n14/03/2026 14:40;210",
    "slashes, month first": "03/14/2026 14:30;212.5\n03/14/2026 14:40;210",
    "date and time apart": "date;time;par\n2026-03-14;14:30;212.5 umol\n2026-03-14;14:40;210",
}


@pytest.mark.parametrize("text", FORMS.values(), ids=FORMS.keys())
def test_the_same_series_in_many_forms(text):
    parsed = parse_log(text, zone=BERLIN)
    assert parsed.samples == ((WANTED, 212.5), (WANTED + 600, 210.0)) and not parsed.bad


def test_bad_and_repeated_lines_are_told():
    text = "time;par\n2026-03-01 10:00;5\nnoon;5\n2026-03-01 10:10;bright\n2026-03-01 10:20;9999\n"
    parsed = parse_log(text + "2026-03-01 10:00;6\n2026-03-01 10:30;7", zone=BERLIN)
    assert [line.number for line in parsed.bad] == [3, 4, 5] and parsed.repeated == 1
    assert [value for _, value in parsed.samples] == [5, 7]


@given(text=st.text(st.sampled_from("0123456789-:/.;, \tT+\n")) | st.text())
def test_any_text_is_a_series_or_told_not_to_be(text):
    try:
        parsed = parse_log(text, zone=BERLIN)
    except UnreadableTable as problem:
        assert str(problem)
    else:
        times = [instant for instant, _ in parsed.samples]
        assert times == sorted(set(times))


def day_text(day, *, peak=200, step=10):
    """A day of 10 h: 1 h up, 8 h at the peak, 1 h down; a line each `step` minutes."""
    lines = []
    for minute in range(0, 1440, step):
        hour = minute / 60
        level = min(max(min(hour - 8, 18 - hour), 0), 1)
        lines.append(f"{day} {minute // 60:02d}:{minute % 60:02d};{peak * level:g}")
    return "\n".join(lines)


FORM = {
    "label": "Left rock",
    "x_cm": "30",
    "y_cm": "30",
    "depth_cm": "25",
    "correction_factor": "1",
}


def bring(client, tank, text, **changes):
    return client.post(reverse("log_new", args=[tank.pk]), FORM | {"text": text} | changes)


def test_measured_dli_stands_next_to_the_planned(as_user, owner, tank):
    taken = dt.datetime(2026, 2, 1, tzinfo=dt.UTC)
    make_survey(tank, taken_at=taken)
    make_light_change(tank, happened_at=taken - dt.timedelta(days=5), day_hours=10, ramp_hours=1)
    client = as_user(owner)
    days = ("2026-03-01", "2026-03-02")
    response = bring(client, tank, "\n".join(day_text(day) for day in days))
    series = LoggedSeries.objects.get()
    assert response["Location"] == reverse("log_detail", args=[series.pk])
    first, last = logged_days(series)
    # 200 for 9 hours of full light: 200 x 9 x 0.0036.
    assert first.logged.dli_mol == pytest.approx(6.48) and first.logged.is_whole
    assert first.planned.dli_mol == pytest.approx(first.planned.par_umol * 9 * 0.0036)
    assert first.percent_of_planned == pytest.approx(100 * 6.48 / first.planned.dli_mol)
    assert last.day == dt.date(2026, 3, 2)
    page = client.get(response["Location"]).content.decode()
    assert "6.5" in page and 'class="log-line"' in page


def test_days_are_those_at_the_tank(as_user, owner, tank):
    tank.time_zone = "America/New_York"
    tank.save()
    bring(as_user(owner), tank, day_text("2026-03-01"))
    assert [one.day for one in logged_days(LoggedSeries.objects.get())] == [dt.date(2026, 3, 1)]


def test_a_day_with_hours_missing_is_not_compared(as_user, owner, tank):
    make_survey(tank, taken_at=dt.datetime(2026, 2, 1, tzinfo=dt.UTC))
    half = "\n".join(day_text("2026-03-01").splitlines()[:60])
    bring(as_user(owner), tank, half)
    (day,) = logged_days(LoggedSeries.objects.get())
    assert day.percent_of_planned is None and not day.logged.is_whole


def test_the_factor_corrects_and_the_logged_values_stay(as_user, owner, tank):
    bring(as_user(owner), tank, day_text("2026-03-01"), correction_factor="1.25")
    series = LoggedSeries.objects.get()
    assert max(value for _, value in series.samples) == 200
    assert logged_days(series)[0].logged.peak_umol == pytest.approx(250)


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"text": ""}, "Fewer than two lines"),
        ({"text": "a;b"}, "Fewer than two lines"),
        ({"x_cm": "99"}, "Between 0 and 60"),
        ({"correction_factor": "9"}, "Between 0.2 and 5"),
        ({"label": ""}, "required"),
    ],
)
def test_what_cannot_be_kept_is_told_and_stays_typed(as_user, owner, tank, change, problem):
    form = {"text": day_text("2026-03-01")} | change
    response = bring(as_user(owner), tank, **form)
    assert response.status_code == 422 and problem in response.content.decode()
    assert not LoggedSeries.objects.exists()


def test_removed_comes_back(as_user, owner, tank):
    client = as_user(owner)
    bring(client, tank, day_text("2026-03-01"))
    pk = LoggedSeries.objects.get().pk
    page = client.post(reverse("log_remove", args=[pk]), follow=True).content.decode()
    assert reverse("log_restore", args=[pk]) in page
    assert client.get(reverse("log_detail", args=[pk])).status_code == 404
    client.post(reverse("log_restore", args=[pk]))
    assert client.get(reverse("log_detail", args=[pk])).status_code == 200


@pytest.mark.parametrize("odd", ["2026-03-01", "²", "2026-99-99", ""])
def test_any_day_asked_for_shows_one(as_user, viewer, owner, tank, odd):
    bring(as_user(owner), tank, day_text("2026-03-01"))
    url = reverse("log_detail", args=[LoggedSeries.objects.get().pk])
    assert as_user(viewer).get(url, {"day": odd}).status_code == 200


@pytest.mark.parametrize(
    ("who", "reads", "writes"),
    [("co_keeper", 200, 302), ("viewer", 200, 403), ("stranger", 404, 404)],
)
def test_who_may(request, as_user, owner, tank, who, reads, writes):
    bring(as_user(owner), tank, day_text("2026-03-01"))
    pk, client = LoggedSeries.objects.get().pk, as_user(request.getfixturevalue(who))
    assert client.get(reverse("log_detail", args=[pk])).status_code == reads
    assert client.get(reverse("log_list", args=[tank.pk])).status_code == reads
    assert client.post(reverse("log_remove", args=[pk])).status_code == writes
    written = bring(client, tank, day_text("2026-03-02")).status_code
    assert written == (303 if writes == 302 else writes)


def test_a_slipped_year_is_told_before_days_are_counted_out():
    with pytest.raises(UnreadableTable, match="slipped"):
        parse_log("1985-03-01 12:00;100\n2026-03-01 12:00;110", zone=dt.UTC)


def both_orders(*dates):
    return "\n".join(f"{date} {hour}:00;100" for date in dates for hour in (10, 11))


@pytest.mark.parametrize(
    ("dates", "days"),
    [
        (["03/01/2026", "03/13/2026"], [(3, 1), (3, 13)]),
        (["03/12/2026", "13/12/2026"], [(12, 3), (12, 13)]),
        (["03/03/2026", "04/04/2026"], [(3, 3), (4, 4)]),
    ],
    ids=["month first", "day first", "either way the same"],
)
def test_one_order_of_dates_for_a_whole_file(dates, days):
    parsed = parse_log(both_orders(*dates), zone=BERLIN)
    seen = {dt.datetime.fromtimestamp(instant, BERLIN).date() for instant, _ in parsed.samples}
    assert sorted((day.month, day.day) for day in seen) == days and not parsed.bad


@pytest.mark.parametrize(
    "dates", [["03/01/2026", "03/02/2026"], ["03/13/2026", "13/03/2026"]], ids=["both", "neither"]
)
def test_an_order_that_no_line_tells_has_to_be_chosen(dates):
    with pytest.raises(UnsureDates):
        parse_log(both_orders(*dates), zone=BERLIN)


def test_lines_against_the_chosen_order_are_not_read():
    parsed = parse_log(both_orders("03/13/2026", "13/03/2026"), zone=BERLIN, dates="day")
    assert [line.number for line in parsed.bad] == [1, 2] and len(parsed.samples) == 2


def test_the_order_is_asked_beside_its_choice_and_a_file_stays(as_user, owner, tank):
    client = as_user(owner)
    text = both_orders("03/01/2026", "03/02/2026")
    file = SimpleUploadedFile("log.csv", text.encode())
    response = bring(client, tank, "", file=file)
    page = response.content.decode()
    assert response.status_code == 422 and 'id="id_dates_error"' in page and text in page
    bring(client, tank, text, dates="month")
    first, *_, last = LoggedSeries.objects.get().samples
    assert last[0] - first[0] == 25 * 3600  # 10:00 on the 1st to 11:00 on the 2nd of March


# Loggers as keepers have them.

START = dt.datetime(2026, 3, 14, 14, 30, tzinfo=BERLIN).timestamp()
SHAPES = {
    "12 h clock": "time,par\n3/14/2026 2:30 PM,212.5\n3/14/2026 2:40 PM,210",
    "12 h clock in cells of its own": "date,time,,par\n14.03.2026,2:30,PM,212.5\n"
    "14.03.2026,2:40,PM,210",
    "short years": "14/03/26 14:30;212.5\n14/03/26 14:40;210",
    "months by name": "14-Mar-26 14:30;212.5\n14-Mar-26 14:40;210",
    "Unix seconds": f"unix;par\n{START:.0f};212.5\n{START + 600:.0f};210",
    "Unix milliseconds": f"{START:.0f}000;212.5\n{START + 600:.0f}000;210",
    "index and temperature": "#,Date Time,Temp °C,PAR\n1,2026-03-14 14:30,25.1,212.5\n"
    "2,2026-03-14 14:40,25.2,210",
    "index without a heading": "1;2026-03-14 14:30;212.5\n2;2026-03-14 14:40;210\n"
    "3;2026-03-14 14:50;n/a",
    "lines above the header": "Serial: 1234\n# from the club\n\ntime;battery V;light\n"
    "2026-03-14 14:30;3.6;212.5\n2026-03-14 14:40;3.6;210",
    "a value column of no known name": "time;temperature;channel 1\n2026-03-14 14:30;25;212.5\n"
    "2026-03-14 14:40;25;210",
}


@pytest.mark.parametrize("text", SHAPES.values(), ids=SHAPES.keys())
def test_loggers_as_keepers_have_them(text):
    parsed = parse_log(text, zone=BERLIN)
    assert parsed.samples[:2] == ((WANTED, 212.5), (WANTED + 600, 210.0))


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-14 14:30;25.1;212.5\n2026-03-14 14:40;25.2;210",
        "time;PAR left;PAR right\n2026-03-14 14:30;100;212.5\n2026-03-14 14:40;100;210",
        "time;a;b\n2026-03-14 14:30;100;212.5\n2026-03-14 14:40;100;210",
    ],
)
def test_two_columns_that_could_be_the_par_are_not_guessed_between(text):
    with pytest.raises(UnreadableTable, match="Which column is the PAR"):
        parse_log(text, zone=BERLIN)


def test_samples_seconds_apart_by_a_spreadsheets_days_all_stay():
    lines = [f"{46082.5 + tens * 10 / 86400:.6f};{100 + tens}" for tens in range(13)]
    parsed = parse_log("\n".join(["time;par", *lines]), zone=BERLIN)
    times = [at for at, _ in parsed.samples]
    assert [at - times[0] for at in times] == [10 * tens for tens in range(13)]
    assert not parsed.repeated and not parsed.bad


def test_a_day_without_a_clock_is_its_midnight():
    parsed = parse_log("time;par\n2026-03-14;1\n2026-03-14 00:10;2", zone=BERLIN)
    assert parsed.samples[1][0] - parsed.samples[0][0] == 600


def test_a_long_series_is_kept_as_means_and_its_dose_stays(monkeypatch):
    text = "time;par\n" + day_text("2026-03-14", step=1) + "\n" + day_text("2026-03-15", step=1)
    whole = parse_log(text, zone=BERLIN)
    monkeypatch.setattr(log_reading, "LOG_SAMPLES_MAX", 600)
    parsed = parse_log(text, zone=BERLIN)
    assert len(whole.samples) == 2880 and whole.thinned_min == 0
    assert (parsed.thinned_min, parsed.given, len(parsed.samples)) == (5, 2880, 576)
    sums = [sum(value for _, value in p.samples) / len(p.samples) for p in (whole, parsed)]
    assert sums[1] == pytest.approx(sums[0], rel=1e-9)
    assert parsed.samples[0][0] == pytest.approx(whole.samples[0][0] + 120)


def test_more_than_20_000_lines_are_taken_and_told(as_user, owner, tank):
    start = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
    lines = (f"{start + dt.timedelta(minutes=k):%Y-%m-%d %H:%M};{k % 300}" for k in range(45_000))
    text = "time;par\n" + "\n".join(lines)
    file = SimpleUploadedFile("long.csv", text.encode())
    response = as_user(owner).post(
        reverse("log_new", args=[tank.pk]), FORM | {"text": "", "file": file}, follow=True
    )
    assert len(LoggedSeries.objects.get().samples) == 22_500
    assert "45,000" in response.content.decode()


def test_a_long_file_with_unsure_dates_is_asked_for_again(as_user, owner, tank, monkeypatch):
    monkeypatch.setattr(log_forms, "BOX_CHARS_MAX", 20)
    text = "3/4/2026 12:00;100\n3/4/2026 12:10;101\n"
    file = SimpleUploadedFile("long.csv", text.encode())
    response = as_user(owner).post(
        reverse("log_new", args=[tank.pk]), FORM | {"text": "", "file": file}
    )
    page = response.content.decode()
    assert response.status_code == 422
    assert set(response.context["form"].errors) == {"file", "dates"}
    assert "3/4/2026 12:00" not in page and not LoggedSeries.objects.exists()
