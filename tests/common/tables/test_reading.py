"""Lines and cells of a table: what all imports read alike."""

import pytest

from apps.common.tables.reading import (
    BadLine,
    UnreadableTable,
    decode_table,
    filled_lines,
    heading_words,
    is_missing,
    joined_lines,
    rarest_delimiter,
    read_each,
    split_line,
    table_lines,
    text_of,
    usual_delimiter,
    without_empty_end,
)
from apps.photics.limits import IMPORT_LINES_MAX


def test_lines_are_counted_as_an_editor_counts_them():
    assert table_lines("\ufeffa\r\nb\rc\u2028d\n\n") == ["a", "b", "c\u2028d"]


@pytest.mark.parametrize(("more", "is_read"), [(0, True), (1, False)])
def test_a_table_has_so_many_lines_at_most(more, is_read):
    text = "1\n" * (IMPORT_LINES_MAX + more)
    if is_read:
        assert len(table_lines(text)) == IMPORT_LINES_MAX
    else:
        with pytest.raises(UnreadableTable):
            table_lines(text)


@pytest.mark.parametrize("empty", ["", "  \t", ";;;", ",,,", '"";"";""'])
def test_a_line_without_content_is_passed_over_and_counted(empty):
    assert filled_lines(f"a;b\n{empty}\nc;d", first_number=5) == [(5, "a;b"), (7, "c;d")]


@pytest.mark.parametrize(
    ("lines", "sign"),
    [
        (["a;1,5", "b;2,5"], ";"),
        (["a,1", "b,2", "c;d"], ","),
        (["a\tb;c", "d\te;f"], "\t"),
        (['"a;b",1', '"c;d",2'], ","),
    ],
)
def test_the_delimiter_splits_most_lines(lines, sign):
    assert usual_delimiter(lines) == sign


def test_a_delimiter_that_gives_too_few_cells_is_not_taken():
    assert usual_delimiter(["a;b c d e", "f;g h i j"], cells=4, signs=[";", " "]) == " "


@pytest.mark.parametrize(("lines", "sign"), [(["t, x", "1;2,5"], ";"), (["1,2"], ","), ([], ",")])
def test_the_rarest_delimiter_wins_over_commas_in_words(lines, sign):
    assert rarest_delimiter(lines) == sign


def test_cells_lose_their_quotes_and_a_row_its_empty_end():
    cells = split_line('"a, b" , 2,,', ",")
    assert cells == ["a, b", "2", "", ""] and without_empty_end(cells, 3) == ["a, b", "2", ""]


def test_a_quote_that_never_ends_loses_no_cell():
    assert len(split_line('"a;b', ";")) == 1 and split_line('a;"b', ";") == ["a", "b"]


def test_heading_words_know_the_sign_for_inches():
    assert heading_words("Depth_2 (″)") == ["depth", "″"]


def test_each_line_is_read_or_refused_with_its_number_and_a_sentence():
    def read(line):
        if line == "b":
            raise ValueError("Not that one.")
        return line.upper()

    good, bad = read_each([(1, "a"), (2, "b"), (3, "c")], read)
    assert good == [(1, "a", "A"), (3, "c", "C")]
    assert bad == (BadLine(2, "b", "Not that one."),)
    assert text_of(bad, header="h") == "h\nb"


def test_a_sign_line_and_remarks_are_passed_over_and_counted():
    text = "sep=;\n# from my logger\n//more\na;1\n#name; SPS\n#1;2\n#N/A;3"
    lines = filled_lines(text)
    assert lines == [(4, "a;1"), (5, "#name; SPS"), (6, "#1;2"), (7, "#N/A;3")]


@pytest.mark.parametrize("cell", ["n/a", " N/A", "-", "–", "#DIV/0!", "NaN", '"na"'])
def test_what_says_that_a_value_is_missing(cell):
    assert is_missing(cell)


@pytest.mark.parametrize("cell", ["", "0", "-1", "no", "none of it"])
def test_what_does_not_say_so(cell):
    assert not is_missing(cell)


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ('a;"b\nc";d\ne;f', ['a;"b c";d', "e;f"]),
        ('a,"say ""x\ny"" twice",b', ['a,"say ""x y"" twice",b']),
        ('12";8"\n10";7"', ['12";8"', '10";7"']),
        ('a;"never\nended', ['a;"never', "ended"]),
    ],
)
def test_a_quoted_cell_may_run_over_lines(text, lines):
    assert joined_lines(text).split("\n") == lines


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
@pytest.mark.parametrize(
    "text", ["Дата;Щёлочность\r\n2026-03-01;8,2", "x;y\n1;2", "Größe,Jod\n7,Ā"]
)
def test_utf16_without_its_mark_is_read_in_any_alphabet(encoding, text):
    assert decode_table(text.encode(encoding)) == text


@pytest.mark.parametrize(
    "data", [bytes(64), "x;y\n1;2\n".encode("utf-32-le"), b"\x89P\x00\x00\x00"]
)
def test_bytes_with_zeros_that_are_no_text_are_refused(data):
    with pytest.raises(UnreadableTable):
        decode_table(data)
