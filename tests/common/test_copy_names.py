"""A copy is called the same way, whatever it is one of."""

import pytest

from apps.common.copy_names import copy_name


@pytest.mark.parametrize(
    ("name", "number", "named"),
    [
        ("Two panels", 1, "Two panels (copy)"),
        ("Two panels", 2, "Two panels (copy 2)"),
        ("N" * 80, 1, "N" * 73 + " (copy)"),
        ("N" * 80, 12, "N" * 70 + " (copy 12)"),
    ],
)
def test_a_copy_says_so_and_is_no_longer_than_a_name(name, number, named):
    assert copy_name(name, most=80, number=number) == named
