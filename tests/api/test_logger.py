"""Logger series by the API: as rows or as the logger's file, by the rules of the page."""

import datetime as dt

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from apps.api.logger import samples
from apps.photics.limits import LOG_SAMPLES_MAX, LOGGED_DAYS_MAX, PAR_MAX_UMOL
from apps.surveys.models import LoggedSeries
from tests.api.programs import program
from tests.factories import make_log, make_tank

PLACE = {"label": "Over the rock", "x_cm": 10, "y_cm": 20, "depth_cm": 15}
START = dt.datetime(2026, 3, 1, 12, 0, tzinfo=dt.UTC)


@pytest.fixture
def client(owner):
    return program(owner)


def at(tank, *rest):
    return "/".join(["/api/v1/tanks", str(tank.pk), "logged-series", *map(str, rest), ""])


def rows(count, *, step=dt.timedelta(minutes=10), par=200.0):
    return [{"at": (START + n * step).isoformat(), "par_umol": par + n % 50} for n in range(count)]


def send(client, tank, seen, **said):
    return client.post(at(tank), PLACE | {"samples": seen} | said, format="json")


def send_file(client, tank, text, **said):
    file = SimpleUploadedFile("log.csv", text.encode())
    headers = said.pop("headers", {})
    body = PLACE | {"file": file} | said
    return client.post(at(tank, "file"), body, format="multipart", headers=headers)


def errors(answer):
    assert answer.status_code == 400 and not LoggedSeries.objects.exists()
    return answer.json()["errors"]


CSV = "time;PAR\n2026-03-01 12:00;200\n2026-03-01 12:10;201.5\n2026-03-01 12:10;9\nnoon;5\n"


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 201), ("co_keeper", 201), ("viewer", 403), ("stranger", 404)]
)
def test_who_brings_a_series_in(request, tank, who, status):
    client = program(request.getfixturevalue(who))
    assert send(client, tank, rows(3)).status_code == status
    assert send_file(client, tank, CSV).status_code == status
    assert LoggedSeries.objects.count() == 2 * (status == 201)


# --- Rows -----------------------------------------------------------------------------------
def test_rows_are_kept_as_they_were_sent(client, owner, tank):
    made = send(client, tank, rows(3)[::-1], correction_factor=1.2)
    series = LoggedSeries.objects.get()
    stored = [[(START + n * dt.timedelta(minutes=10)).timestamp(), 200.0 + n] for n in range(3)]
    assert (series.samples, series.created_by) == (stored, owner)
    read = client.get(made["Location"]).data
    assert read["samples"] == rows(3) and read["correction_factor"] == 1.2
    [head] = client.get(at(tank)).data["results"]
    assert head["label"] == "Over the rock" and "samples" not in head


def test_a_time_without_an_offset_is_the_tanks(client, tank):
    tank.time_zone = "America/New_York"
    tank.save()
    send(client, tank, [{"at": f"2026-03-01T{hour}:00", "par_umol": 5} for hour in (12, 13)])
    assert LoggedSeries.objects.get().samples[0][0] == (START + dt.timedelta(hours=5)).timestamp()


@pytest.mark.parametrize(
    "row",
    [
        [1, 2], {"at": "2026-03-01T12:00"}, {"at": "noon", "par_umol": 5},
        {"at": "1949-03-01T12:00", "par_umol": 5}, {"at": 5, "par_umol": 5},
        {"at": "2026-03-01T12:05", "par_umol": -1}, {"at": "2026-03-01T12:05", "par_umol": True},
        {"at": "2026-03-01T12:05", "par_umol": PAR_MAX_UMOL + 1}, rows(1)[0],
        {"at": "2026-03-01T12:05", "par_umol": 5, "par": 5},
    ],
)  # fmt: skip
def test_a_row_that_is_none_is_named_by_its_number(client, tank, row):
    [said] = errors(send(client, tank, [*rows(2), row]))["samples"]
    assert said.startswith("Row 3: ")


@pytest.mark.parametrize(
    ("field", "said"),
    [("x_cm", {"x_cm": 900}), ("correction_factor", {"correction_factor": 9}),
     ("label", {"label": ""}), ("file", {"file": "x"}), ("samples", {"samples": rows(1)}),
     ("samples", {"samples": rows(2, step=dt.timedelta(days=LOGGED_DAYS_MAX + 1))})],
)  # fmt: skip
def test_what_does_not_fit_is_refused_at_its_field(client, tank, field, said):
    assert list(errors(send(client, tank, said.pop("samples", rows(2)), **said))) == [field]


def test_a_long_series_is_kept_as_means_and_a_longer_one_refused(client, tank, monkeypatch):
    second = dt.timedelta(seconds=1)
    assert send(client, tank, rows(LOG_SAMPLES_MAX + 60, step=second)).status_code == 201
    series = LoggedSeries.objects.get()
    assert len(series.samples) == (LOG_SAMPLES_MAX + 60) / 60
    series.delete()
    monkeypatch.setattr(samples, "LOG_LINES_MAX", 5)
    assert list(errors(send(client, tank, rows(6)))) == ["samples"]
    assert send(client, tank, rows(5)).status_code == 201


def test_rows_sent_twice_by_one_key_are_one_series(client, tank):
    body = PLACE | {"samples": rows(2)}
    for _ in range(2):
        answer = client.post(at(tank), body, format="json", headers={"Idempotency-Key": "k"})
    assert answer["Idempotency-Replayed"] and LoggedSeries.objects.count() == 1


# --- Files ----------------------------------------------------------------------------------
def test_a_file_becomes_what_its_page_makes_of_it(client, as_user, owner, tank):
    made = send_file(client, tank, CSV).data
    as_user(owner).post(
        reverse("log_new", args=[tank.pk]), PLACE | {"correction_factor": "1", "text": CSV}
    )
    by_page, by_program = LoggedSeries.objects.all()
    assert by_page.samples == by_program.samples and by_program.created_by == owner
    assert (made["kept"], made["given"], made["thinned_min"], made["repeated"]) == (2, 2, 0, 1)
    assert [line["number"] for line in made["bad"]] == [5]


def test_inches_of_its_keeper_are_not_those_of_a_program(client, owner, tank):
    owner.units = "in"
    owner.save()
    assert send_file(client, tank, CSV).data["x_cm"] == 10


def test_dates_that_do_not_tell_are_asked_for(client, tank):
    text = CSV.replace("2026-03-01", "3/4/2026")
    assert list(errors(send_file(client, tank, text))) == ["dates"]
    made = send_file(client, tank, text, dates="month")
    assert client.get(made["Location"]).data["samples"][0]["at"].startswith("2026-03-04")


@pytest.mark.parametrize("text", ["", "no table", "time;PAR\n2026-03-01 12:00;200\n"])
def test_a_file_that_is_no_series_is_refused(client, tank, text):
    assert list(errors(send_file(client, tank, text))) == ["file"]


def test_a_file_beyond_the_tank_is_refused_at_its_place(client, tank):
    assert list(errors(send_file(client, tank, CSV, x_cm=900))) == ["x_cm"]


def test_a_file_sent_twice_by_one_key_is_one_series(client, tank):
    key = {"Idempotency-Key": "k"}
    first, second = (send_file(client, tank, CSV, headers=key) for _ in range(2))
    assert first.data == second.data and LoggedSeries.objects.count() == 1
    assert send_file(client, tank, CSV + "\n", headers=key).status_code == 422


# --- Away -----------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("who", "status"), [("owner", 204), ("co_keeper", 204), ("viewer", 403), ("stranger", 404)]
)
def test_who_takes_a_series_away(request, tank, who, status):
    series = make_log(tank)
    client = program(request.getfixturevalue(who))
    assert client.delete(at(tank, series.pk)).status_code == status
    assert LoggedSeries.objects.present().exists() == (status != 204)


def test_a_series_of_another_tank_is_not_there(client, owner, tank):
    assert client.get(at(make_tank(owner), make_log(tank).pk)).status_code == 404
