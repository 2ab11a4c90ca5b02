"""Typing a survey beside the tank: phone, keyboard, sign-in run out, two tabs, closed tab."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.sessions.models import Session
from playwright.sync_api import expect

from apps.surveys.recording import rows_of
from tests.browser.conftest import DESK, PHONE
from tests.factories import PASSWORD, make_survey, make_tank


@pytest.fixture
def survey(keeper):
    return make_survey(make_tank(keeper), readings=[])


def table_of(survey):
    return f"/surveys/{survey.pk}/readings/"


def par_cells(page):
    return page.locator("#reading-rows input[name=par]")


def lay_grid(page):
    page.locator(".grid-aid > summary").click()
    page.get_by_role("button", name="Put these points in the table").click()
    expect(par_cells(page)).to_have_count(27)
    expect(par_cells(page).first).to_be_focused()


def found_by_axe(page):
    return [found["id"] for found in Axe().run(page).response["violations"]]


def nothing_lies_over(cell):
    return cell.evaluate(
        """cell => {
            const box = cell.getBoundingClientRect();
            const middle = [box.x + box.width / 2, box.y + box.height / 2];
            return document.elementFromPoint(...middle) === cell;
        }"""
    )


def values(survey):
    return [row.value_umol for row in rows_of(survey)]


def save(page):
    page.get_by_role("button", name="Save readings").click()


def test_three_by_three_by_three_on_a_phone(open_page, survey):
    page = open_page(table_of(survey))
    lay_grid(page)
    for value in range(101, 128):
        assert nothing_lies_over(page.locator(":focus"))
        page.keyboard.type(str(value))
        page.keyboard.press("Enter")
    save(page)
    expect(page.get_by_text(re.compile(r"\b27 readings")).first).to_be_visible()
    assert values(survey) == list(range(101, 128))
    assert len({(r.x_cm, r.y_cm, r.depth_cm) for r in rows_of(survey)}) == 27


def test_keys_move_between_cells_and_never_send(open_page, survey):
    page = open_page(table_of(survey), DESK)
    rows = page.locator(".readings__row")
    cell = lambda row, name: rows.nth(row).locator(f"input[name={name}]")  # noqa: E731
    cell(0, "x").focus()
    for key, row, name in [
        ("Tab", 0, "y"), ("Enter", 1, "y"), ("ArrowRight", 1, "depth"), ("ArrowUp", 0, "depth"),
        ("ArrowDown", 1, "depth"), ("ArrowLeft", 1, "y"), ("Shift+Enter", 0, "y"),
    ]:  # fmt: skip
        page.keyboard.press(key)
        expect(cell(row, name)).to_be_focused()
    before = rows.count()
    cell(before - 1, "par").focus()
    page.keyboard.press("Enter")
    expect(rows).to_have_count(before + 1)
    assert page.url.endswith(table_of(survey)) and values(survey) == []


def test_a_spreadsheet_block_fills_the_cells(open_page, survey):
    page = open_page(table_of(survey), DESK)
    page.locator("#reading-rows input[name=x]").first.focus()
    block = "\r\n".join(f"{x}\t20\t10\t{100 + x},5" for x in range(1, 13)) + "\r\n"
    page.evaluate(
        """text => {
            const data = new DataTransfer();
            data.setData("text/plain", text);
            const told = { clipboardData: data, bubbles: true, cancelable: true };
            document.activeElement.dispatchEvent(new ClipboardEvent("paste", told));
        }""",
        block,
    )
    save(page)
    page.wait_for_url(f"**/surveys/{survey.pk}/")
    assert values(survey) == [100.5 + x for x in range(1, 13)]


def test_taken_out_row_can_be_put_back(open_page, survey):
    page = open_page(table_of(survey))
    par_cells(page).nth(1).fill("77")
    page.get_by_role("button", name="Delete this row").nth(1).click()
    assert "77" not in [cell.input_value() for cell in par_cells(page).all()]
    page.get_by_role("button", name="Put it back").click()
    assert par_cells(page).nth(1).input_value() == "77"


def test_wrong_cell_is_focused_and_all_is_kept(open_page, survey):
    page = open_page(table_of(survey))
    lay_grid(page)
    par_cells(page).nth(0).fill("120 par")
    par_cells(page).nth(4).fill("99999")
    save(page)
    expect(par_cells(page).nth(4)).to_be_focused()
    assert nothing_lies_over(par_cells(page).nth(4))
    expect(page.get_by_text("0 and 5000")).to_be_visible()
    assert par_cells(page).nth(0).input_value() == "120 par" and values(survey) == []
    assert found_by_axe(page) == []


def test_sign_in_runs_out_while_typing(open_page, survey, live_server):
    page = open_page(table_of(survey))
    lay_grid(page)
    par_cells(page).first.fill("123")
    Session.objects.all().delete()
    save(page)
    expect(page.get_by_role("link", name="Sign in in a new tab")).to_be_visible()
    assert par_cells(page).first.input_value() == "123"

    with page.context.expect_page() as popup:
        page.get_by_role("link", name="Sign in in a new tab").click()
    other = popup.value
    other.locator("[name=login]").fill("keeper@example.org")
    other.locator("[name=password]").fill(PASSWORD)
    other.locator("[name=password]").press("Enter")
    other.wait_for_url(re.compile(r"/tanks/"))

    save(page)
    expect(page.get_by_text("Saved 1 reading.")).to_be_visible()
    assert values(survey) == [123.0]


def test_closed_tab_loses_nothing_and_doubles_nothing(open_page, survey):
    page = open_page(table_of(survey))
    lay_grid(page)
    par_cells(page).nth(0).fill("150")
    par_cells(page).nth(26).fill("50")
    marks = [m.input_value() for m in page.locator("#reading-rows input[name=client_id]").all()]
    page.close()
    page = open_page(table_of(survey))
    expect(page.locator("[data-kept-notice]")).to_be_visible()
    expect(par_cells(page)).to_have_count(27)
    again = [m.input_value() for m in page.locator("#reading-rows input[name=client_id]").all()]
    assert par_cells(page).nth(26).input_value() == "50" and again == marks
    save(page)
    expect(page.get_by_text("25 points")).to_be_visible()
    page.close()
    page = open_page(table_of(survey))
    expect(par_cells(page)).to_have_count(27)
    save(page)
    expect(page.get_by_text("Saved 2 readings.")).to_be_visible()
    assert values(survey) == [150.0, 50.0]


def test_two_tabs_on_one_survey(open_page, survey):
    first, second = open_page(table_of(survey)), open_page(table_of(survey))
    for page, value in [(first, "111"), (second, "222")]:
        for name, text in [("x", "10"), ("y", "10"), ("depth", "10"), ("par", value)]:
            page.locator(f"#reading-rows input[name={name}]").first.fill(text)
    save(first)
    first.wait_for_url(f"**/surveys/{survey.pk}/")
    save(second)
    expect(second.locator("#survey-readings").get_by_role("alert")).to_be_visible()
    expect(second.get_by_text("111 at 10, 10, 10")).to_be_visible()
    assert par_cells(second).first.input_value() == "222" and values(survey) == [111.0]
    assert found_by_axe(second) == []
    second.get_by_role("button", name="Save mine and add those").click()
    second.wait_for_url(f"**/surveys/{survey.pk}/")
    assert values(survey) == [222.0, 111.0]


def test_import_keeps_bad_lines_over_a_closed_tab(open_page, survey):
    path = f"/surveys/{survey.pk}/import/"
    page = open_page(path)
    page.get_by_label("Paste the table here").fill("x,y,depth,par\n10,8,5,180\n10,8,5,dim")
    page.get_by_role("button", name="Check the table").click()
    expect(page.locator("[data-good='1'][data-bad='1']")).to_be_visible()
    assert found_by_axe(page) == []
    page.close()
    page = open_page(path)
    box = page.get_by_label("Paste the table here")
    expect(box).to_have_value("x,y,depth,par\n10,8,5,180\n10,8,5,dim")
    page.get_by_role("button", name="Check the table").click()
    page.get_by_role("button", name="Import 1 reading").click()
    expect(page.get_by_label("Paste the table here")).to_have_value("x,y,depth,par\n10,8,5,dim")
    assert values(survey) == [180.0]


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_pages_fit_and_are_sound(open_page, survey, keeper, size):
    full = make_survey(survey.tank, correction_factor=1.2)
    paths = [
        f"/tanks/{survey.tank_id}/surveys/", f"/tanks/{survey.tank_id}/surveys/new/",
        f"/surveys/{full.pk}/", table_of(full), table_of(survey),
        f"/surveys/{survey.pk}/import/", "/meters/", "/meters/new/",
    ]  # fmt: skip
    page = open_page(paths[0], size)
    told = []
    page.on("console", lambda m: told.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda error: told.append(str(error)))
    for path in paths:
        page.goto(re.match(r"https?://[^/]+", page.url)[0] + path)
        wide = page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
        assert wide <= 0, path
        assert found_by_axe(page) == [], path
    assert told == []


def test_ten_thousand_lines_show_how_far_they_are(open_page, survey):
    page = open_page(f"/surveys/{survey.pk}/import/")
    table = b"x,y,depth,par\n" + b"10,8,5,180\n" * 10_000
    file = {"name": "table.csv", "mimeType": "text/csv", "buffer": table}
    page.get_by_label("Or choose a file").set_input_files(file)
    page.evaluate(
        """() => {
            const line = document.querySelector(".import-progress");
            const isUnsure = () => line.querySelector("progress").position < 0;
            window.told = [];
            new MutationObserver(() => line.hidden || window.told.push(isUnsure()))
                .observe(line, { attributes: true, childList: true, subtree: true });
        }"""
    )
    page.get_by_role("button", name="Check the table").click()
    expect(page.locator("[data-good='10000']")).to_be_visible(timeout=30_000)
    # All is sent, and how long the reading takes nobody knows.
    assert page.evaluate("window.told")[-1] is True


def test_a_long_table_folds_and_keeps_all_its_rows(open_page, keeper):
    rows = [(5 + n % 50, 30, 10, 40 + n) for n in range(61)]
    survey = make_survey(make_tank(keeper), readings=rows)
    page = open_page(table_of(survey))
    folds = page.locator("#survey-readings details")
    expect(folds).to_have_count(3)
    # Up from the first row that is open, into the fold above it.
    page.locator("#reading-rows input[name=par]").first.press("ArrowUp")
    expect(folds.nth(2)).to_have_attribute("open", "")
    page.keyboard.type("77")
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        page.get_by_role("button", name="Save readings").click()
    assert survey.readings.count() == 61
    assert survey.readings.get(position=60).value_umol == 77
