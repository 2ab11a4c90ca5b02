"""Calls that lie across the end of a chunk of frames cost no memory of the system each time."""

import resource

from apps.common.serving.frame_room import with_frame_room

# More than the frames of a chunk of 16 kB, far fewer than those of a page.
DEEPEST, CALLS = 150, 200


def new_pages(depth):
    """Return how many pages of memory CALLS calls from so deep made the system hand out."""
    if depth:
        return new_pages(depth - 1)
    before = resource.getrusage(resource.RUSAGE_THREAD).ru_minflt
    for _ in range(CALLS):
        callee(1, 2)
    return resource.getrusage(resource.RUSAGE_THREAD).ru_minflt - before


def callee(one, other):
    return one + other


def most_new_pages():
    return max(new_pages(depth) for depth in range(DEEPEST))


def test_no_depth_asks_for_memory_at_each_call():
    assert with_frame_room(most_new_pages)() < CALLS / 2


def test_what_is_called_gets_its_arguments_and_gives_its_answer():
    assert with_frame_room(divmod)(17, 5) == (3, 2)
    assert with_frame_room(dict)(depth_cm=20) == {"depth_cm": 20}
