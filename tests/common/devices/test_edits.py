"""What devices send: read whole or refused with a sentence."""

import json
import uuid

import pytest

from apps.common.devices.edits import (
    UnreadableEdits,
    decoded,
    read_batch,
    read_count,
    read_id,
    read_list,
    read_number,
    read_text,
)


def is_refused(read, value, **rules):
    try:
        read(value, **rules)
    except UnreadableEdits as refusal:
        return bool(str(refusal))
    return False


@pytest.mark.parametrize("body", ["", "{", b"\xff\xfe\x00", "[" * 100_000])
def test_what_is_no_json_is_refused(body):
    assert is_refused(decoded, body)


@pytest.mark.parametrize("sent", [None, {}, "ab", [1], [{}, None], [{}] * 4])
def test_a_batch_is_a_list_of_so_many_objects(sent):
    rules = {"most": 3, "noun": "notes", "one": "A note"}
    assert is_refused(read_batch, sent, **rules)
    assert read_batch([{}] * 3, **rules) == [{}] * 3


@pytest.mark.parametrize("value", [None, 5, "", "no id", [], {}])
def test_an_id_is_a_uuid(value):
    assert is_refused(read_id, value, problem="No id.")
    mark = uuid.uuid4()
    assert read_id(str(mark), problem="No id.") == mark


@pytest.mark.parametrize("value", [None, True, -1, 11, 1.0, "1"])
def test_a_count_is_whole_and_within_its_bounds(value):
    assert is_refused(read_count, value, most=10, problem="No count.")
    assert [read_count(n, most=10, problem="No count.") for n in (0, 10)] == [0, 10]


@pytest.mark.parametrize("value", [None, True, "1", json.loads("NaN"), json.loads("1e999"), 1e9])
def test_a_number_is_finite(value):
    assert is_refused(read_number, value, problem="No number.")
    assert read_number(-3, problem="No number.") == -3.0


@pytest.mark.parametrize("value", [None, 1, "a\x00b", "\ud800"])
def test_a_text_can_be_stored(value):
    assert is_refused(read_text, value, problem="No text.")
    assert read_text("", problem="No text.") == ""


def test_a_list_that_was_not_sent_is_empty():
    assert read_list(None, problem="No list.") == []
    assert is_refused(read_list, {"a": 1}, problem="No list.")
    assert is_refused(read_list, [1, 2], most=1, problem="No list.")
