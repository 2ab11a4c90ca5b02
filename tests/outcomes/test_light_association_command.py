"""The command that says from a CSV file whether it is the light."""

import io
import json

import pytest
from django.core.management import CommandError, call_command

HEADER = "coral,tank,day,dli_mol,event"


def visits(events=((0, 21), (1, 21), (0, 28), (1, 35))):
    return [
        f"{coral},1,{day},{10 if coral < 2 and day >= 21 else 5},{int((coral, day) in events)}"
        for day in range(0, 70, 7)
        for coral in range(6)
    ]


@pytest.fixture
def run(tmp_path):
    def answer(text, *options):
        path = tmp_path / "visits.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        out = io.StringIO()
        call_command("light_association", str(path), *options, stdout=out)
        return out.getvalue()

    return answer


def test_json_has_every_promised_field(run):
    answer = json.loads(run("\n".join([HEADER, *visits()]), "--json"))
    promised = {"ratio_per_doubling", "low", "high", "p_value", "n_events", "verdict"}
    assert promised | {"lag_profile", "reason"} <= set(answer)
    assert answer["n_events"] == 4


def test_figures_that_do_not_exist_are_null(run):
    answer = json.loads(run("\n".join([HEADER, *visits(events=())]), "--json"))
    assert answer["p_value"] is None and answer["verdict"] == "cannot tell"


def test_spreadsheet_habits_are_borne(run):
    plain = run("\n".join([HEADER, *visits()]), "--json")
    rows = [f"{row},note" for row in visits()]
    rows.insert(3, ",,,,,")
    quirky = "\ufeff" + "\r\n".join([HEADER + ",remark", "", *rows, "", ""])
    assert run(quirky, "--json") == plain


def test_arrivals_moves_and_keepers_are_taken_into_account(run):
    plain = json.loads(run("\n".join([HEADER, *visits()]), "--json"))
    header = f"{HEADER},arrived,moved,keeper"
    moved = [
        f"{row},,{21 if row[0] in '01' else ''},{'ab'[n % 2]}" for n, row in enumerate(visits())
    ]
    given = json.loads(run("\n".join([header, *moved]), "--json"))
    assert given["p_value"] > plain["p_value"]


def test_columns_of_never_change_nothing(run):
    plain = run("\n".join([HEADER, *visits()]), "--json")
    never = [f"{row},," for row in visits()]
    assert run("\n".join([f"{HEADER},arrived,moved", *never]), "--json") == plain


def test_words_start_with_the_verdict(run):
    assert run("\n".join([HEADER, *visits(events=())])).startswith("Cannot tell: No event")


@pytest.mark.parametrize(
    ("text", "line", "cause"),
    [
        ("", 1, "empty"),
        (HEADER, 1, "no coral-visit"),
        ("coral,tank,day,event\n1,1,0,0", 1, "dli_mol is missing"),
        (f"{HEADER},event\n", 1, "twice"),
        (f"{HEADER}\n1,1,0,5,0\n1,1,7,bright,0", 3, "not a number"),
        (f"{HEADER}\n1.5,1,0,5,0", 2, "not a whole number"),
        (f"{HEADER}\n1,1,0,-5,0", 2, "below zero"),
        (f"{HEADER}\n1,1,0,inf,0", 2, "not a finite number"),
        (f"{HEADER}\n1,1,0,5,2", 2, "neither 0 nor 1"),
        (f"{HEADER}\n1,1,0,5,0\n\n1,1,0,6,0", 4, "on line 2 already"),
        (HEADER.encode() + b"\n1,1,0,\xff,0", 2, "not UTF-8"),
    ],
)
def test_bad_input_is_one_line_with_file_line_and_cause(run, text, line, cause):
    with pytest.raises(CommandError) as refused:
        run(text)
    message = str(refused.value)
    assert refused.value.returncode == 2
    assert f"visits.csv, line {line}: " in message and cause in message
    assert "\n" not in message


def test_missing_file_is_named(tmp_path):
    with pytest.raises(CommandError, match=r"nowhere\.csv: no such file") as refused:
        call_command("light_association", str(tmp_path / "nowhere.csv"))
    assert refused.value.returncode == 2
