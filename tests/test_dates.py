"""One way to show a date on every page: 3 Mar 2026. Files and addresses keep ISO."""

import re
from pathlib import Path

ROOT = Path(__file__).parent.parent
# A year may go without saying on an axis or in a week's plan, and a choice may name a month alone;
# "c" is for machines.
SHOWN = {"j M Y", "j M Y, H:i", "j M", "Y", "l, j M Y", "l, j M", "M"}
MACHINE = {"c", "Y-m-d", "Y-m-d\\TH:i"}
FILTER = re.compile(r"""\|date:["']([^"']*)["']""")
# A month in full, or a day with a leading nought before a month's name.
OTHER = re.compile(r"%B|%d[ .]%b")


def test_every_page_shows_dates_in_one_format():
    found = {
        form: path.name
        for path in (ROOT / "templates").rglob("*.html")
        for form in FILTER.findall(path.read_text())
        if form not in SHOWN | MACHINE
    }
    assert not found


def test_no_page_leaves_a_date_to_the_default():
    bare = re.compile(r"\|date\s*[|}%]")
    found = [p.name for p in (ROOT / "templates").rglob("*.html") if bare.search(p.read_text())]
    assert not found


def test_sentences_made_in_code_have_the_same_format():
    found = [
        (path.name, line.strip())
        for path in (ROOT / "apps").rglob("*.py")
        for line in path.read_text().splitlines()
        if OTHER.search(line)
    ]
    assert not found


def test_scripts_leave_no_date_to_the_device():
    found = [
        path.name
        for path in (ROOT / "static/js").rglob("*.js")
        if re.search(r"toLocale(Date|Time)?String\(\s*(\[\]|\))|dateStyle", path.read_text())
    ]
    assert not found
