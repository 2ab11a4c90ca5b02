"""Icons: Lucide's, and our own for what no set knows: a branching coral, a tank's light, a meter.

Our own are drawn as Lucide's are: in a box of 24, with lines two wide and round at their ends.
"""

import re
from functools import cache, lru_cache
from importlib.resources import files
from zipfile import ZipFile

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

OWN_ICONS = {
    # Branches from one foot.
    "coral": (
        "M7 21h10M12 21V10M12 17c-4 0-6-2-6-6V7M6 12 3 9.5M12 14c3 0 5.5-1.5 5.5-5V4"
        "M17.5 9 21 6.5M12 10 9.5 3.5"
    ),
    # A tank under its lamp, and lines of equal light that hang lowest below it.
    "light-map": (
        "M3 3v17a1 1 0 0 0 1 1h16a1 1 0 0 0 1-1V3M3 8c4.5 0 5 4 9 4 3.5 0 4.5-4 9-4"
        "M3 14c4.5 0 6 3 9 3s4.5-3 9-3M9 3h6"
    ),
    # The sensor's head on its stick.
    "meter": (
        "M12 10v12M7 6h10v1.5A2.5 2.5 0 0 1 14.5 10h-5A2.5 2.5 0 0 1 7 7.5ZM9.5 6a2.5 2.5 0 0 1 5 0"
    ),
}


# What differs by use in the opening tag of Lucide's drawings.
SIDES = re.compile(r'\s+(?:xmlns|width|height)="[^"]*"')


@lru_cache(maxsize=256)
def drawn_icon(name: str, size: int) -> SafeString:
    """Return the drawing of an icon, its side in pixels; KeyError where there is none.

    Screen readers pass it over.
    """
    if name in OWN_ICONS:
        return _own(name, size)
    opening, rest = _lucide().read(f"{name}.svg").decode().split(">", 1)
    sides = f' width="{size}" height="{size}" aria-hidden="true">'
    # A drawing of a pinned package: nothing that anyone typed is in it.
    return mark_safe(" ".join(SIDES.sub("", opening).split()) + sides + rest.strip())


@cache
def _lucide() -> ZipFile:
    # Opened once: the package's own tag reads a list of 1,700 names anew for every icon.
    return ZipFile(files("lucide").joinpath("lucide.zip").open("rb"))


def _own(name: str, size: int) -> SafeString:
    return format_html(
        '<svg class="icon-{}" width="{}" height="{}" viewBox="0 0 24 24" fill="none"'
        ' stroke="currentColor" stroke-width="2" stroke-linecap="round" stroke-linejoin="round"'
        ' aria-hidden="true"><path d="{}"/></svg>',
        name, size, size, OWN_ICONS[name],
    )  # fmt: skip
