"""What a table of history is read as: columns, dates, names, spellings, and what it asks."""

import datetime as dt

import pytest

from apps.common.tables.reading import UnreadableTable
from apps.corals.history import reading as history_reading
from apps.corals.history.reading import read_history
from apps.corals.history.table import Answers
from apps.corals.models import HealthNote, WaterEvent
from apps.corals.notes.sign_words import SIGN_WORDS
from apps.lighting.models import LightChange
from tests.factories import make_coral, make_tank

pytestmark = pytest.mark.django_db
Seen = HealthNote.Seen

NOTES = """date;coral;seen;note;size (cm);x;y;depth
2025-04-15;green  BRANCHING;pale tips;after the swap;7.5;20;30;10
2025-04-17;Green branching;good;;;20;30;10
"""
DAYS = """My log of 2025
Date;Alk (dKH);Temp;NO3 mg/l;pH;Light %;Lamp;Green branching;Notes
1.3.2025;8.2;25.4;<2;8.1;60;;good;water change 20%
2.3.2025;8,4;25.5;n/a;;60;;;
3.3.2025;8.3;78 °F;2-4;8.2;75;raised the lamps;slightly pale;
4.3.2025;;;;;75;;bleached at the tips;heater failed
"""


@pytest.fixture
def tank():
    return make_tank()


@pytest.fixture
def coral(tank):
    return make_coral(tank, at_cm=None, since=dt.date(2025, 1, 10))


def read(tank, text, **answers):
    return read_history(text, tank=tank, answers=Answers(**answers))


def of_kind(history, kind):
    return [entry.row for entry in history.entries if entry.kind == kind]


def test_signs_beside_a_column_that_names_the_coral_are_that_corals(tank, coral):
    table = "date;coral;What I saw\n2025-04-15;Green branching;pale\n"
    history = read(tank, table)
    assert [row.seen for row in of_kind(history, "note")] == [Seen.PALING]
    assert not history.names


def test_a_row_a_note(tank, coral):
    history = read(tank, NOTES)
    assert not (history.bad or history.waiting or history.names)
    first, second = of_kind(history, "note")
    assert (first.coral, first.noted_on) == (coral, dt.date(2025, 4, 15))
    assert (first.seen, first.where, first.text) == (
        Seen.PALING,
        "tips",
        "pale tips. after the swap",
    )
    assert (second.seen, second.text) == (Seen.WELL, "")
    assert [size.diameter_cm for size in of_kind(history, "size")] == [7.5]


def test_a_place_said_again_is_no_move(tank, coral):
    spots = [entry for entry in read(tank, NOTES).entries if entry.kind == "spot"]
    assert [spot.is_known for spot in spots] == [False, True]


def test_a_row_a_day_with_a_column_a_value(tank, coral):
    history = read(tank, DAYS)
    assert not (history.bad or history.waiting)
    water = [(event.kind, event.value, event.unit) for event in of_kind(history, "water")]
    assert ("alkalinity", 8.2, "dKH") in water and ("alkalinity", 8.4, "dKH") in water
    assert ("temperature", 25.4, "°C") in water and ("temperature", 78.0, "°F") in water
    assert ("nutrients", 2.0, "mg/l") in water and ("nutrients", 3.0, "mg/l") in water
    assert ("water_change", None, "") in water and ("equipment", None, "") in water
    assert [note.seen for note in of_kind(history, "note")] == [
        Seen.WELL,
        Seen.PALING,
        Seen.BLEACHING,
    ]


def test_a_change_of_the_level_is_a_light_change_and_a_level_said_again_is_none(tank, coral):
    (change,) = of_kind(read(tank, DAYS), "light")
    assert change.reason == LightChange.Reason.RAISED and change.summary == "raised the lamps"
    assert change.factor == 1.25 and change.happened_at.date() == dt.date(2025, 3, 3)


def test_a_value_below_what_the_test_shows_keeps_its_words(tank, coral):
    texts = {event.text for event in of_kind(read(tank, DAYS), "water")}
    assert "NO3, <2" in texts and "NO3, 2-4" in texts


def test_the_levels_follow_the_dates_and_not_the_lines(tank):
    history = read(tank, "date;light %\n2025-03-02;50\n2025-03-01;100\n")
    (change,) = of_kind(history, "light")
    assert change.factor == 0.5 and change.happened_at.date() == dt.date(2025, 3, 2)


def test_hours_of_light_are_entered_where_they_change(tank):
    history = read(tank, "date;photoperiod\n2025-03-01;10\n2025-03-02;10\n2025-03-03;9 h\n")
    changes = of_kind(history, "light")
    assert [c.day_hours for c in changes] == [10, 9]
    assert {c.reason for c in changes} == {LightChange.Reason.HOURS}


@pytest.mark.parametrize("kind", [kind.value for kind in WaterEvent.Kind])
def test_every_kind_of_the_water_log_can_be_a_column(tank, kind):
    text = "date;some heading\n2025-03-01;3.2\n"
    history = read(tank, text, roles={1: f"water:{kind}"}, units={1: "mg/L"})
    (event,) = of_kind(history, "water")
    assert (event.kind, event.value, event.unit) == (kind, 3.2, "mg/L")


def test_an_unknown_name_waits_for_an_answer_and_the_likely_one_comes_first(tank, coral):
    text = "date;coral;seen\n2025-03-01;Green branchng;pale\n2025-03-02;Zoas;pale\n"
    history = read(tank, text)
    assert not history.entries and len(history.waiting) == 2
    assert {q.name: q.likely for q in history.names} == {"Green branchng": [coral], "Zoas": []}
    answers = {"greenbranchng": str(coral.pk), "zoas": "new:soft"}
    history = read(tank, text, names=answers)
    mended, zoas = of_kind(history, "note")
    assert mended.coral == coral and not history.waiting
    assert (zoas.coral.name, zoas.coral.group) == ("Zoas", "soft")
    assert zoas.coral.added_on == dt.date(2025, 3, 2)


def test_names_may_be_left_out_one_by_one_or_all(tank, coral):
    text = "date;coral;seen\n2025-03-01;Fish;pale\n2025-03-02;Green branching;pale\n"
    for answers in ({"names": {"fish": "out"}}, {"names_rest": "out"}):
        history = read(tank, text, **answers)
        assert [note.coral for note in of_kind(history, "note")] == [coral]
        assert not (history.waiting or history.bad)


def test_two_corals_of_one_name_are_asked_about(tank, coral):
    other = make_coral(tank, at_cm=None, since=dt.date(2025, 1, 1), name="green branching")
    text = "date;coral;seen\n2025-03-01;Green branching;pale\n"
    (question,) = read(tank, text).names
    assert {c.pk for c in question.likely} == {coral.pk, other.pk}
    (note,) = of_kind(read(tank, text, names={question.key: str(other.pk)}), "note")
    assert note.coral == other


def test_lines_from_before_a_coral_came_wait_until_it_is_said_to_have_been_there(tank, coral):
    text = "date;coral;seen\n2024-12-01;Green branching;pale\n"
    history = read(tank, text)
    (arrival,) = history.arrivals
    assert arrival.first == dt.date(2024, 12, 1) and len(history.waiting) == 1
    history = read(tank, text, earlier=frozenset([coral.pk]))
    assert len(history.new) == 1 and not history.waiting


def test_an_unknown_spelling_waits_and_counts_once_explained(tank, coral):
    text = "date;coral;seen\n2025-03-01;Green branching;zapped\n2025-03-02;Green branching;Zapped\n"
    history = read(tank, text)
    (question,) = history.signs
    assert (question.key, question.count) == ("zapped", 2) and len(history.waiting) == 2
    notes = of_kind(read(tank, text, signs={"zapped": "paling"}), "note")
    assert [(note.seen, note.text) for note in notes] == [
        ("paling", "zapped"),
        ("paling", "Zapped"),
    ]
    words = of_kind(read(tank, text, signs={"zapped": "words"}), "note")
    assert [note.seen for note in words] == [Seen.OTHER] * 2
    assert not read(tank, text, signs={"zapped": "out"}).entries


def test_a_keepers_own_numbers_for_a_condition_are_asked_about(tank, coral):
    text = "date;coral;condition\n2025-03-01;Green branching;2\n"
    (question,) = read(tank, text).conditions
    (note,) = of_kind(read(tank, text, conditions={question.key: "5"}), "note")
    assert note.condition == HealthNote.Condition.GOOD and note.seen == Seen.WELL


def test_dates_that_can_be_read_two_ways_are_asked_once(tank, coral):
    text = "date;coral;seen\n3/4/2025;Green branching;pale\n"
    history = read(tank, text)
    assert history.problem and not (history.entries or history.bad)
    (note,) = of_kind(read(tank, text, dates="month"), "note")
    assert note.noted_on == dt.date(2025, 3, 4)


def test_a_table_without_a_date_asks_for_its_column(tank, coral):
    text = "wann;wer;was\n2025-03-01;Green branching;pale\n"
    history = read(tank, text)
    assert history.problem and len(history.table.columns) == 3
    history = read(tank, text, roles={0: "date", 1: "coral", 2: "seen"})
    assert len(history.new) == 1


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("someday;Green branching;pale;;;;;", "is not a date"),
        (";Green branching;pale;;;;;", "Has no date"),
        ("2025-03-01;;pale;;;;;", "Names no coral"),
        ("2999-03-01;Green branching;pale;;;;;", "in the future"),
        ("2025-03-01;Green branching;;;huge;;;", "is not a number"),
        ("2025-03-01;Green branching;;;900;;;", "200"),
        ("2025-03-01;Green branching;;;;20;;", "all three"),
        ("2025-03-01;Green branching;;;;20;30;999", "Outside the water"),
    ],
)
def test_a_bad_line_is_named_and_takes_nothing_along(tank, coral, line, words):
    history = read(tank, f"{NOTES}{line}\n")
    (bad,) = history.bad
    assert bad.number == 4 and words in bad.problem
    assert len(history.new) == 4


@pytest.mark.parametrize(
    ("cell", "words"),
    [("warm", "is not a number"), ("1,200", "1200"), ("-3", "At least 0"), ("1e9", "At most")],
)
def test_a_bad_value_is_named_by_its_line(tank, cell, words):
    history = read(tank, f"date;Temp °C\n2025-03-01;{cell}\n2025-03-02;25\n")
    (bad,) = history.bad
    assert bad.number == 2 and words in bad.problem and len(history.new) == 1


@pytest.mark.parametrize("columns", ["Alk (dKH);Mg (mg/l)", "Alk (dKH);note;Mg (mg/l)"])
def test_thousands_by_a_point_are_refused_beside_decimal_commas(tank, columns):
    cells = ["8,2", "weekly", "1.350"] if "note" in columns else ["8,2", "1.350"]
    history = read(tank, f"date;{columns}\n2025-03-01;{';'.join(cells)}\n")
    (bad,) = history.bad
    assert bad.number == 2 and "1350" in bad.problem
    assert 1.35 not in [entry.row.value for entry in history.new]


def test_one_line_said_twice_is_one_entry(tank, coral):
    line = "2025-03-01;Green branching;pale;;;;;\n"
    assert len(read(tank, NOTES + line + line).new) == 5


def test_an_empty_table_is_refused(tank):
    with pytest.raises(UnreadableTable):
        read(tank, " \n;;\n")


def test_more_entries_than_one_import_bears_are_refused(tank, monkeypatch):
    monkeypatch.setattr(history_reading, "HISTORY_ENTRIES_MAX", 3)
    with pytest.raises(UnreadableTable, match="too many"):
        read(tank, "date;Temp °C\n" + "".join(f"2025-03-0{d};25\n" for d in range(1, 6)))


def test_a_note_keeps_its_time_and_who_saw_it(tank, coral):
    text = "date;coral;seen;by\n2025-03-01 2:30 PM;Green branching;pale;Ada\n"
    text += "2025-03-02;Green branching;pale;\n"
    first, second = of_kind(read(tank, text), "note")
    assert (first.noted_time, first.noted_by) == (dt.time(14, 30), "Ada")
    assert (second.noted_time, second.noted_by) == (None, "")


@pytest.mark.parametrize("word", [w for words in SIGN_WORDS.values() for w in words])
def test_every_word_shown_beside_a_sign_is_known(tank, coral, word):
    text = f"date;coral;seen\n2025-03-01;Green branching;{word}\n"
    history = read(tank, text)
    (note,) = of_kind(history, "note")
    assert word in SIGN_WORDS[note.seen] and not history.signs
