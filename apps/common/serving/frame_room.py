"""Room for the frames of a whole call, taken at once.

CPython lays frames into chunks of 16 kB and gives a chunk back as soon as no frame lies in it. A
loop that happens to call across the end of one so asks the system for memory, and returns it, at
each turn: that was a tenth of a page's time. A frame that is too large for a chunk gets one of its
own, twice as large again, and all that it calls lies in what is left of that.
"""

from collections.abc import Callable
from typing import ParamSpec, TypeVar

Params = ParamSpec("Params")
Result = TypeVar("Result")
# Places for values on the frame's stack, 8 bytes each, never used: just above 256 kB, so that of a
# chunk, whose size is doubled until the frame fits, 250 kB are left. A page takes about 60.
PLACES = 2**15


def with_frame_room(call: Callable[Params, Result]) -> Callable[Params, Result]:
    """Return the call, which is made from a frame that leaves room for all it calls."""

    def roomy(*args: Params.args, **kwargs: Params.kwargs) -> Result:
        return call(*args, **kwargs)

    roomy.__code__ = roomy.__code__.replace(co_stacksize=PLACES)
    return roomy
