"""Links to pages of apps above: a page below names one, and the root says that it is there.

An app does not know the apps above it, yet a survey's page leads to the light map. The names that
may be asked for stand in `reeflog/wiring.py`; `tests/test_layers.py` refuses all others.
"""

from django.urls import reverse

PAGES: set[str] = set()


def page_above(name: str, *args: object) -> str:
    """Return the address of a page that the root has announced; KeyError for another name."""
    if name not in PAGES:
        raise KeyError(f"{name} is not announced in reeflog/wiring.py")
    return reverse(name, args=args)
