"""Workbooks are read as tables: sheets, dates, formulas, errors; no file harms the machine."""

import datetime as dt
import io
import time
import zipfile

import pytest

from apps.common.tables.reading import UnreadableTable, split_line
from apps.common.tables.workbook import read_table_file
from apps.photics.limits import IMPORT_LINES_MAX, WORKBOOK_BYTES_MAX
from tests.workbooks import Formula, Wrong, ods_bytes, packed, symbolic_link, xlsx_bytes

DAY, MOMENT = dt.date(2026, 3, 1), dt.datetime(2026, 3, 1, 14, 30)
ROWS = [["date", "value", 'note; with "quotes"'], [DAY, 8.2, "a\nb"], [MOMENT, 0.1 + 0.2, '"x"']]


def cells(text):
    return [split_line(line, "\t") for line in text.split("\n")]


@pytest.mark.parametrize("make", [xlsx_bytes, ods_bytes])
def test_dates_numbers_and_words_come_as_typed(make):
    assert cells(read_table_file(make(("Water", ROWS))).text) == [
        ["date", "value", 'note; with "quotes"'],
        ["2026-03-01", "8.2", "a b"],
        ["2026-03-01 14:30:00", "0.3", '"x"'],
    ]


def test_a_formula_gives_its_value_and_an_error_no_value():
    rows = [["a", "b", "c"], [Formula("1+2", 3.0), Wrong("#N/A"), True]]
    assert cells(read_table_file(xlsx_bytes(("S", rows))).text)[1] == ["3", "", "true"]


@pytest.mark.parametrize("make", [xlsx_bytes, ods_bytes])
def test_lines_keep_the_numbers_of_their_rows(make):
    rows = [[], [None, None], [None, "date"], [], [None, DAY]]
    assert read_table_file(make(("S", rows))).text == "\n\ndate\n\n2026-03-01"


@pytest.mark.parametrize("make", [xlsx_bytes, ods_bytes])
def test_the_first_filled_sheet_is_read_or_the_one_named(make):
    book = make(("Empty", []), ("Notes", [["n"]]), ("Water", [["w"]]))
    first, named = read_table_file(book), read_table_file(book, sheet="water")
    assert (first.text, first.sheet) == ("n", "Notes")
    assert named.text == "w" and "Notes" in named.other_sheets
    assert "“Water”" in first.sheet_words()


def test_a_sheet_that_is_not_there_is_refused_with_those_that_are():
    with pytest.raises(UnreadableTable, match=r"no sheet “Sizes”.*“Notes”, “Water”"):
        read_table_file(xlsx_bytes(("Notes", [["n"]]), ("Water", [["w"]])), sheet="Sizes")


def test_a_hidden_sheet_is_not_read():
    book = xlsx_bytes(("Lists", [["x"]]), ("Notes", [["n"]]), hidden=["Lists"])
    result = read_table_file(book)
    assert (result.sheet, result.other_sheets) == ("Notes", ())


def test_an_empty_workbook_is_an_empty_table():
    assert read_table_file(xlsx_bytes(("S", []))).text == ""


def test_text_is_read_as_before():
    assert read_table_file("a;b\n1;2 °C".encode("cp1252")).text == "a;b\n1;2 °C"


def refused(data, **how):
    with pytest.raises(UnreadableTable) as problem:
        read_table_file(data, **how)
    return str(problem.value)


def test_too_many_rows_are_refused():
    assert "5 lines" in refused(xlsx_bytes(("S", [[1]] * 6)), lines_max=5)
    assert IMPORT_LINES_MAX == 20_000


def test_a_file_that_unpacks_to_too_much_is_refused_unopened():
    began = time.process_time()
    part = "xl/worksheets/sheet1.xml"
    bomb = packed({"xl/workbook.xml": "", part: " " * (WORKBOOK_BYTES_MAX + 1)})
    assert len(bomb) < 100_000 and "Unpacked" in refused(bomb)
    assert time.process_time() - began < 5


@pytest.mark.parametrize("make", [xlsx_bytes, ods_bytes])
def test_a_link_to_another_file_is_no_part_of_a_workbook(make):
    out = io.BytesIO(make(("S", [["a"]])))
    with zipfile.ZipFile(out, "a") as file:
        file.writestr(symbolic_link("xl/media/image1.png"), "/etc/passwd")
    assert "no spreadsheet" in refused(out.getvalue())


def test_two_far_cells_do_not_take_the_memory_of_the_app():
    """The library asks for every cell between them: the process that did so came to an end."""
    book = xlsx_bytes(("S", [["a"]]))
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            text = old.read(name)
            if name.endswith("sheet1.xml"):
                far = b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'
                text = text.replace(b"</sheetData>", far)
            new.writestr(name, text)
    assert "can't be read" in refused(out.getvalue())


def test_repeated_cells_of_an_ods_do_not_take_the_memory_of_the_app():
    with zipfile.ZipFile(io.BytesIO(ods_bytes(("S", [["a"]])))) as old:
        parts = {name: old.read(name).decode() for name in old.namelist()}
    parts["content.xml"] = (
        parts["content.xml"]
        .replace("<table:table-cell/>", "")
        .replace(
            'table:number-columns-repeated="1024"/>',
            'table:number-columns-repeated="16384" office:value-type="float" office:value="1"/>',
        )
    )
    parts = {name: text.split("?>", 1)[-1] for name, text in parts.items()}
    assert refused(packed(parts))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (packed({"word/document.xml": "<w/>"}), "no spreadsheet"),
        (b"PK\x03\x04 and then nothing of a zip", "damaged"),
        (packed({"xl/workbook.xml": "<not-a-workbook"}), "damaged"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "password"),
        (b"\x89PNG\r\n\x1a\n" + bytes(40), "not text"),
        (xlsx_bytes(("S", ROWS))[:-200], "damaged"),
    ],
)
def test_what_is_no_workbook_is_refused_with_one_sentence(data, words):
    assert words in refused(data)
