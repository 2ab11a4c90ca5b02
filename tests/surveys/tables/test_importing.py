"""Tables as spreadsheets, loggers and people write them."""

import time
from dataclasses import astuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from apps.common.tables.reading import UnreadableTable, decode_table
from apps.photics.limits import IMPORT_BYTES_MAX, IMPORT_LINES_MAX, PAR_MAX_UMOL, SPREAD_MAX_UMOL
from apps.surveys.models import Survey
from apps.surveys.recording import ReadingRow
from apps.surveys.tables.exporting import write_csv
from apps.surveys.tables.importing import UnsureColumns, parse_table
from apps.tanks.models import Tank
from tests.paths import DATA
from tests.surveys.bad_rows import BAD_ROWS, ODD_ROWS

# Parsing asks no database: rows that were never saved do.
SURVEY = Survey(tank=Tank(name="Cube", length_cm=60, width_cm=60, depth_cm=50))


def parse(text, unit="cm"):
    return parse_table(text, survey=SURVEY, unit=unit)


def points(text, unit="cm"):
    parsed = parse(text, unit)
    assert not parsed.bad
    return [astuple(line.row)[:4] for line in parsed.good]


WANTED = [(10.0, 8.0, 5.0, 180.0), (30.5, 8.0, 5.0, 468.5)]
FORMS = {
    "header": "x_cm,y_cm,depth_cm,par\n10,8,5,180\n30.5,8,5,468.5\n",
    "no header": "10,8,5,180\n30.5,8,5,468.5",
    "tabs": "x\ty\tdepth\tPAR\n10\t8\t5\t180\n30.5\t8\t5\t468.5",
    "semicolons and decimal commas": "x (cm);y (cm);depth (cm);PAR\n10;8;5;180\n30,5;8;5;468,5",
    "tabs and decimal commas": "10\t8\t5\t180\n30,5\t8\t5\t468,5",
    "spaces": "10 8 5 180\n30.5 8 5 468.5",
    "byte order mark": "\ufeffx,y,depth,par\n10,8,5,180\n30.5,8,5,468.5",
    "returns": "x,y,depth,par\r\n10,8,5,180\r\n30.5,8,5,468.5\r\n",
    "old returns": "x,y,depth,par\r10,8,5,180\r30.5,8,5,468.5\r",
    "blank lines": "\n\nx,y,depth,par\n\n10,8,5,180\n,,,\n30.5,8,5,468.5\n\n\n",
    "other order": "PAR,Depth,Y,X\n180,5,8,10\n468.5,5,8,30.5",
    "more columns": "no,x,y,depth,par,note\n1,10,8,5,180,fine\n2,30.5,8,5,468.5,",
    "metres": "x (m),y (m),depth (m),PAR (µmol/m²/s)\n0.10,0.08,0.05,180\n0.305,0.08,0.05,468.5",
    "millimetres": "x mm;y mm;depth mm;par\n100;80;50;180\n305;80;50;468,5",
    "units in cells": "x,y,depth,par\n10 cm,8cm,50 mm,180 PAR\n0.305 m,8,5,468.5 umol",
    "quotes": '"x","y","depth","par"\n"10","8","5","180"\n"30.5","8","5","468.5"',
    "spaces behind commas": "x, y, depth, par\n10, 8, 5, 180\n30.5, 8, 5, 468.5",
}


@pytest.mark.parametrize("text", FORMS.values(), ids=FORMS.keys())
def test_the_same_table_in_many_forms(text):
    assert points(text) == WANTED


def test_heading_unit_wins_over_the_keepers():
    assert points("x (in),y (in),depth_cm,par\n10,2,5,180", unit="cm") == [(25.4, 5.08, 5.0, 180.0)]


def test_keepers_unit_where_none_is_named():
    assert points("10,2,1,180", unit="in") == [(25.4, 5.08, 2.54, 180.0)]


def test_fifth_column_is_the_spread():
    assert parse("10,8,5,180,12").good[0].row.spread_umol == 12.0


def test_a_traced_tanks_readings_are_read_whole():
    path = DATA / "traced_tanks" / "case-04" / "readings.csv"
    parsed = parse(decode_table(path.read_bytes()))
    assert len(parsed.good) == len(path.read_text().splitlines()) - 1 and not parsed.bad


@pytest.mark.parametrize(("cells", "at", "problem"), BAD_ROWS)
def test_bad_row_is_listed_with_its_number_text_and_reason(cells, at, problem):
    line = ";".join(cells.values())
    parsed = parse(f"x;y;depth;par\n1;1;1;1\n\n{line}\n2;2;2;2")
    assert len(parsed.good) == 2
    assert [(bad.number, bad.text) for bad in parsed.bad] == [(4, line)]
    assert problem in parsed.bad[0].problem


@pytest.mark.parametrize(("cells", "value"), ODD_ROWS)
def test_odd_row_is_read(cells, value):
    assert points(";".join(cells.values()))[0][3] == value


def test_too_few_and_too_many_columns_are_told():
    parsed = parse("x,y,depth,par\n1,2,3\n1,2,3,4,5\n1,2,3,4")
    assert [line.number for line in parsed.bad] == [2, 3] and len(parsed.good) == 1


def test_decimal_commas_between_commas_are_told():
    assert "semicolons or tabs" in parse("10,5,8,5,5,180").bad[0].problem


def test_header_without_a_column_is_told():
    with pytest.raises(UnreadableTable, match="no column for depth"):
        parse("x,y,par\n1,2,3")


def test_title_above_the_header_is_a_bad_line():
    parsed = parse("Saturday's readings\nx,y,depth,par\n1,2,3,4")
    assert parsed.bad[0].problem.startswith("Stands above the header") and len(parsed.good) == 1


def test_nothing_in_it_is_told():
    with pytest.raises(UnreadableTable, match="no lines"):
        parse("\n \n;;;\n")


def test_good_and_bad_text_together_mean_what_the_whole_meant():
    text = "x (in);y (in);depth (in);par\n1;1;1;10\nbad;1;1;10\n2;2;2;20"
    parsed = parse(text)
    again = parse(parsed.good_text() + "\n" + parsed.bad_text())
    assert [line.row.x_cm for line in again.good] == [2.54, 5.08]
    assert [line.text for line in again.bad] == ["bad;1;1;10"]


def test_fifty_thousand_lines_are_refused_at_once():
    text = "x,y,depth,par\n" + "10,10,10,100\n" * 50_000
    start = time.perf_counter()
    with pytest.raises(UnreadableTable, match=f"{IMPORT_LINES_MAX:,} lines"):
        parse(text)
    # Reading so many would take over a second; half of one is ample for counting on any machine.
    assert time.perf_counter() - start < 0.5


def test_as_many_lines_as_allowed_are_read():
    assert len(parse("10,10,10,100\n" * IMPORT_LINES_MAX).good) == IMPORT_LINES_MAX


@pytest.mark.parametrize(
    "data",
    [
        b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR",
        b"PK\x03\x04\x14\x00\x06\x00",
        b"1,2,3,4\x00\n",
        bytes(range(256)),
    ],
    ids=["picture", "zipped spreadsheet", "zero byte", "every byte"],
)
def test_binary_is_refused(data):
    with pytest.raises(UnreadableTable, match="not text"):
        decode_table(data)


def test_too_many_bytes_are_refused():
    with pytest.raises(UnreadableTable, match="2 MB"):
        decode_table(b"1" * (IMPORT_BYTES_MAX + 1))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_files_of_any_spreadsheet_are_decoded(encoding):
    text = "x (cm);y (cm);depth (cm);PAR (µmol)\r\n10;8;5;180\r\n30,5;8;5;468,5\r\n"
    assert points(decode_table(text.encode(encoding))) == WANTED


ROWS = st.lists(
    st.builds(
        ReadingRow,
        x_cm=st.floats(0, 60),
        y_cm=st.floats(0, 60),
        depth_cm=st.floats(0, 50),
        value_umol=st.floats(0, PAR_MAX_UMOL),
        spread_umol=st.none() | st.floats(0, SPREAD_MAX_UMOL),
    ),
    min_size=1,
    max_size=30,
)


@given(rows=ROWS, unit=st.sampled_from(["cm", "in"]))
def test_export_reads_back_as_it_was(rows, unit):
    parsed = parse(decode_table(write_csv(rows).encode()), unit)
    assert not parsed.bad
    assert [astuple(line.row)[:5] for line in parsed.good] == [astuple(row)[:5] for row in rows]


TABLE_TEXT = st.text(st.sampled_from("0123456789,.;-+eE\t\n\r \"'xydepthPARcmin()µ½²\x00\ufeff"))


@given(text=TABLE_TEXT | st.text())
def test_any_text_is_a_table_or_told_not_to_be(text):
    try:
        parsed = parse(text)
    except UnreadableTable as problem:
        assert str(problem)
    else:
        assert all(line.problem and line.text.strip() for line in parsed.bad)
        assert all(0 <= line.row.value_umol <= PAR_MAX_UMOL for line in parsed.good)


@given(data=st.binary(max_size=300))
def test_any_bytes_are_text_or_told_not_to_be(data):
    try:
        assert isinstance(decode_table(data), str)
    except UnreadableTable as problem:
        assert str(problem)


def test_header_of_unknown_words_asks_which_column_is_which():
    with pytest.raises(UnsureColumns, match="names no column"):
        parse("links;vorn;tief;licht\n10;8;5;180")


def test_a_bad_first_line_is_no_header():
    parsed = parse("10;8;5;dim\n10;8;5;180")
    assert [line.number for line in parsed.bad] == [1] and len(parsed.good) == 1


@pytest.mark.parametrize(
    ("header", "cells"),
    [
        ("Reading,x,y,depth,PAR", "1,10,8,5,180"),
        ("Water depth,x,y,depth,PAR", "50,10,8,5,180"),
        ("x,y,depth,PAR average,PAR", "10,8,5,99,180"),
        ("Tank length,x,y,depth,PAR reading (µmol/m²/s)", "60,10,8,5,180"),
        ("Depth reading,x,y,Sensor,PAR", "5,10,8,3,180"),
    ],
)
def test_exact_headings_win_over_loose_ones(header, cells):
    assert points(f"{header}\n{cells}") == [WANTED[0]]


@pytest.mark.parametrize(
    "text",
    [
        "x,y,depth,PAR,PAR\n10,8,5,180,190",
        "x,y,depth,PAR before,PAR after\n10,8,5,180,190",
        "x,y,Sensor depth,Rock depth,PAR\n10,8,5,6,180",
        "x,y,Water depth,PAR\n10,8,50,180",
        "Reading,x,y,depth,light\n1,10,8,5,180\n2,10,8,6,170\n3,10,8,7,160",
    ],
    ids=["PAR twice", "two loose PAR", "two depths", "the tank's depth", "a numbering"],
)
def test_columns_that_could_be_another_are_asked_about(text):
    with pytest.raises(UnsureColumns):
        parse(text)


@pytest.mark.parametrize(("lines", "is_refused"), [(2, False), (3, True)])
def test_a_numbering_is_three_lines_that_count_up(lines, is_refused):
    text = "x,y,depth,Reading\n" + "".join(f"10,8,5,{n + 1}\n" for n in range(lines))
    if is_refused:
        with pytest.raises(UnsureColumns, match="counts the lines"):
            parse(text)
    else:
        assert len(parse(text).good) == lines


TWO_WAYS = "x;y;depth;par\n30,5;8;5;468,5\n10;8;5;1.212"


def test_a_point_among_decimal_commas_is_asked_about():
    (bad,) = parse(TWO_WAYS).bad
    assert bad.number == 3 and "1212" in bad.problem and "1,212" in bad.problem
    assert points(TWO_WAYS.replace("1.212", "1.2120"))[1][3] == 1.212
    assert points("x;y;depth;par\n10;8;5;1.212")[0][3] == 1.212


@pytest.mark.parametrize(
    ("cell", "mark", "value"),
    [
        ("1.212", ",", 1212.0),
        ("1.212", ".", 1.212),
        ("1,212", ",", 1.212),
        ("1,212", ".", 1212.0),
        ("1.212,5 PAR", ",", 1212.5),
        ("1,212.5", ".", 1212.5),
    ],
)
def test_the_chosen_decimal_mark_settles_a_number(cell, mark, value):
    parsed = parse_table(f"10;8;5;{cell}", survey=SURVEY, unit="cm", mark=mark)
    assert [line.row.value_umol for line in parsed.good] == [value]
