"""The readings table: what is saved, what is told, what two tabs do to each other."""

import uuid
from html.parser import HTMLParser

import pytest
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from apps.surveys.recording import ReadingRow, rows_of, save_readings
from tests.factories import make_rock, make_survey
from tests.surveys.bad_rows import BAD_ROWS, GOOD, ODD_ROWS

HTMX = {"HX-Request": "true"}


@pytest.fixture
def survey(tank):
    return make_survey(tank, readings=[])


@pytest.fixture
def client(as_user, owner):
    return as_user(owner)


def posted(*rows, version=0, **more):
    """Return form data of rows, each a dict of cells."""
    names = ("x", "y", "depth", "par", "spread", "client_id")
    data = {name: [row.get(name, "") for row in rows] for name in names}
    data["client_id"] = [text or str(uuid.uuid4()) for text in data["client_id"]]
    return {"version": version, **data, **more}


def row(par, **cells):
    return GOOD | {"par": par, "client_id": str(uuid.uuid4())} | cells


def url(survey):
    return reverse("survey_readings", args=[survey.pk])


def values(survey):
    return [reading.value_umol for reading in rows_of(survey)]


def test_rows_are_saved_and_blank_ones_left_out(client, survey):
    response = client.post(url(survey), posted(row("100"), {}, row("200", x="31")))
    assert response.status_code == 303 and values(survey) == [100.0, 200.0]


def test_saved_message_offers_an_undo_that_works(client, survey):
    client.post(url(survey), posted(row("100")))
    page = client.post(url(survey), posted(row("200"), version=1), follow=True).content.decode()
    undo = reverse("survey_readings_undo", args=[survey.pk, 2])
    assert undo in page
    client.post(undo)
    assert values(survey) == [100.0]


def test_late_undo_leaves_the_newer_save(client, survey):
    client.post(url(survey), posted(row("100")))
    client.post(url(survey), posted(row("200"), version=1))
    undo = reverse("survey_readings_undo", args=[survey.pk, 1])
    assert "Not undone" in client.post(undo, follow=True).content.decode()
    assert values(survey) == [200.0]


def test_undo_with_nothing_before_is_told(client, survey):
    undo = reverse("survey_readings_undo", args=[survey.pk, 0])
    assert "no earlier save" in client.post(undo, follow=True).content.decode()


def test_double_tap_saves_once(client, survey):
    data = posted(row("100"), row("200"))
    first, second = client.post(url(survey), data), client.post(url(survey), data)
    assert (first.status_code, second.status_code) == (303, 303)
    survey.refresh_from_db()
    assert values(survey) == [100.0, 200.0] and survey.version == 1


@pytest.mark.parametrize(("cells", "at", "problem"), BAD_ROWS)
def test_bad_row_is_told_at_its_cell_and_all_is_kept(client, survey, cells, at, problem):
    typed = posted(row("100", x="7"), cells)
    response = client.post(url(survey), typed, headers=HTMX)
    page = response.content.decode()
    assert response.status_code == 422 and values(survey) == []
    assert page.count('aria-invalid="true"') == 1 and problem in page
    shown = {name: [r[at_] for r in rows_on(page)] for at_, name in enumerate(GOOD)}
    assert shown == {name: typed[name] for name in GOOD}


class Cells(HTMLParser):
    def __init__(self):
        super().__init__()
        self.rows = []

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        if tag == "input" and attrs.get("name") == "client_id":
            self.rows.append([])
        elif tag == "input" and attrs.get("inputmode") == "decimal":
            self.rows[-1].append(attrs.get("value", ""))


def rows_on(page):
    """Return the texts of the cells on a page, row by row."""
    cells = Cells()
    cells.feed(page.split('<template id="blank-row">')[0])
    return cells.rows


@pytest.mark.parametrize(("cells", "value"), ODD_ROWS)
def test_odd_row_is_saved(client, survey, cells, value):
    client.post(url(survey), posted(cells))
    assert values(survey) == [value]


def test_points_not_read_yet_wait_on_the_device(client, survey):
    response = client.post(url(survey), posted(row("100"), row("", x="40")), headers=HTMX)
    page = " ".join(response.content.decode().split())
    assert response.status_code == 200 and values(survey) == [100.0]
    assert response.context["table"].planned_count == 1
    assert 'value="40"' in page and 'name="version" value="1"' in page


def test_editing_in_inches_does_not_move_other_readings(client, owner, survey):
    owner.units = "in"
    owner.save()
    places = [ReadingRow(10.01, 20.02, 30.03, 100.0), ReadingRow(11.0, 21.0, 31.0, 200.0)]
    save_readings(survey=survey, rows=places, expected_version=0, by=owner)
    shown = rows_on(client.get(url(survey)).content.decode())
    rows = [
        dict(zip(("x", "y", "depth", "par"), cells, strict=False))
        | {"client_id": str(place.client_id)}
        for cells, place in zip(shown, places, strict=True)
    ]
    rows[1]["par"] = "250"
    client.post(url(survey), posted(*rows, version=1))
    first, second = rows_of(survey)
    assert first == places[0]
    assert (second.x_cm, second.value_umol) == (11.0, 250.0)


def test_other_tab_saved_first_nothing_is_lost(client, survey):
    mine, other = row("111"), row("222", x="44")
    client.post(url(survey), posted(other))
    response = client.post(url(survey), posted(mine), headers=HTMX)
    page = response.content.decode()
    assert response.status_code == 409 and values(survey) == [222.0]
    assert "222 at 44, 20, 10" in page and 'value="111"' in page
    assert 'name="version" value="1"' in page


def test_rows_that_differ_are_marked(client, survey):
    mine = row("111")
    client.post(url(survey), posted(mine | {"par": "222"}))
    page = client.post(url(survey), posted(mine, version=0)).content.decode()
    assert "222 at 30, 20, 10" in page and "readings__row--differs" in page


def test_mine_over_theirs_and_theirs_back_by_undo(client, survey):
    client.post(url(survey), posted(row("222")))
    client.post(url(survey), posted(row("111"), version=1))
    assert values(survey) == [111.0]
    client.post(reverse("survey_readings_undo", args=[survey.pk, 2]))
    assert values(survey) == [222.0]


def test_mine_and_theirs_together(client, survey):
    client.post(url(survey), posted(row("222")))
    client.post(url(survey), posted(row("111"), version=1, keep_both="1"))
    assert values(survey) == [111.0, 222.0]


def test_grid_lays_points_in_the_middle_of_their_share(client, survey):
    page = client.get(url(survey), {"nx": "3", "ny": "3", "nz": "2"}, headers=HTMX).content.decode()
    rows = rows_on(page)
    assert len(rows) == 18 and rows[0] == ["10", "10", "12", "", ""]


def test_grid_is_there_without_scripts(client, survey):
    page = client.get(url(survey), {"nx": "2", "ny": "1", "nz": "1"}).content.decode()
    assert [cells[:3] for cells in rows_on(page)] == [["15", "30", "25"], ["45", "30", "25"]]


@pytest.mark.parametrize("odd", ["0", "-3", "x", "", "9999", "²"])
def test_odd_grid_is_passed_over(client, survey, odd):
    assert client.get(url(survey), {"nx": odd, "ny": "3", "nz": "3"}).status_code == 200


def test_signed_out_gets_a_notice_beside_the_table(client, survey):
    client.logout()
    response = client.post(url(survey), posted(row("100")), headers=HTMX)
    assert response.status_code == 401 and response["HX-Retarget"] == "#notice"


def test_a_row_too_many_is_told(client, survey):
    response = client.post(url(survey), posted(*[row("1")] * 1001), headers=HTMX)
    assert response.status_code == 422 and b"1,000 readings at most" in response.content


def test_co_keeper_saves(as_user, co_keeper, survey):
    as_user(co_keeper).post(url(survey), posted(row("100")))
    assert survey.revisions.get().replaced_by == co_keeper


CELL = st.text(max_size=12) | st.sampled_from(["1e400", "-0", "1,200", "12,5", "120 par", "nan"])
ANY_ROW = st.fixed_dictionaries(
    dict.fromkeys(("x", "y", "depth", "par", "spread", "client_id", "version"), CELL)
)


@given(cells=ANY_ROW)
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_text_in_any_cell_is_answered(client, survey, cells):
    response = client.post(url(survey), cells)
    assert response.status_code in (200, 303, 409, 422)


def test_grid_leaves_out_points_within_rock(client, survey):
    make_rock(survey.tank, x_cm=20, y_cm=20, depth_cm=20, length_cm=20, width_cm=20, height_cm=30)
    rows = rows_on(client.get(url(survey), {"nx": "3", "ny": "3", "nz": "2"}).content.decode())
    assert len(rows) == 17 and ["30", "30", "38"] not in [cells[:3] for cells in rows]
