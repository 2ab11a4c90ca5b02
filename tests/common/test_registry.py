"""A registry: every provider once, in the order they came, given what is asked with."""

from apps.common.registry import Registry


def numbers(start):
    return [start, start + 1]


def letters(start):
    yield f"from {start}"


def test_without_a_provider_there_is_nothing():
    assert Registry().collect(1) == []


def test_all_providers_are_called_in_the_order_they_came():
    registry = Registry()
    registry.add(letters)
    registry.add(numbers)
    assert registry.collect(5) == ["from 5", 5, 6]


def test_a_provider_added_twice_is_called_once():
    registry = Registry()
    registry.add(numbers)
    registry.add(numbers)
    assert registry.collect(5) == [5, 6]
