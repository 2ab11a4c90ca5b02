"""The light map as a PDF: one page that says what the map's page says, whatever a name holds."""

import io
import re
from types import SimpleNamespace

import pytest
from django.urls import reverse
from pypdf import PdfReader

from apps.common.templatetags.reef import par
from apps.lightmap.export import pdf
from apps.lightmap.export.letters import known_letters, runs_of
from apps.lightmap.export.sheet import corals_words
from apps.lightmap.page.drawn_page import lit_planes
from apps.lightmap.page.map_page import map_page
from apps.lightmap.page.query import MapQuery
from apps.lightmap.pins import BandState, pins_for
from tests.factories import make_coral, make_lit_survey

pytestmark = pytest.mark.one_database

PRINTED_PER_MM = pdf.DOTS_PER_MM
A4_POINTS, LETTER_POINTS = (595, 842), (612, 792)
DEEP = "?depth=25&low=150&high=300"


def pdf_of(client, tank, query=DEEP):
    return client.get(reverse("export_map_pdf", args=[tank.pk]) + query)


def read(response):
    assert response["Content-Type"] == "application/pdf"
    return PdfReader(io.BytesIO(response.content))


def text_of(response):
    return " ".join(read(response).pages[0].extract_text().split())


@pytest.fixture(autouse=True)
def coarse_drawings(monkeypatch):
    """Draw few dots: what is tried here is what a sheet says, and 300 an inch take a second."""
    monkeypatch.setattr(pdf, "DOTS_PER_MM", 2.0)


@pytest.fixture
def lit(tank):
    make_lit_survey(tank)
    make_coral(tank, name="Quiet branch", at_cm=(10, 10, 25))
    make_coral(tank, name="Bright plate")
    return tank


@pytest.mark.parametrize("reader", ["owner", "co_keeper", "viewer"])
def test_those_let_in_take_it_along(request, as_user, lit, reader):
    response = pdf_of(as_user(request.getfixturevalue(reader)), lit)
    assert len(read(response).pages) == 1
    assert response["Content-Disposition"].startswith("attachment;")


def test_stranger_and_tank_without_a_map_have_none(as_user, owner, stranger, tank):
    assert pdf_of(as_user(owner), tank).url == reverse("light_map", args=[tank.pk])
    make_lit_survey(tank)
    assert pdf_of(as_user(stranger), tank).status_code == 404


def test_it_says_the_numbers_of_the_page(as_user, owner, lit):
    query = MapQuery.read({"depth": "25", "low": "150", "high": "300"}, tank=lit, unit="cm")
    page = lit_planes(map_page(lit, query, unit="cm"), pins_for(lit))
    text = text_of(pdf_of(as_user(owner), lit))
    facts = page.facts
    for value in (facts.min_umol, facts.mean_umol, facts.max_umol):
        assert re.search(rf"\b{par(value)}\b", text)
    assert f"{facts.in_band_percent:.0f} % of the area" in text
    for lit_pin in page.planes.pin_lights:
        light = f"{par(lit_pin.par_umol)} {par(lit_pin.low_umol)}–{par(lit_pin.high_umol)}"
        assert f"{lit_pin.number} {lit_pin.pin.name}, 25 cm deep {light}" in text


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ([], ""),
        (["unknown"] * 2, ""),
        (["within", "unknown"], "The only coral with a known light and band is inside it."),
        (["within"] * 5 + ["unknown"], "All 5 corals with a known light and band are inside it."),
        (["above"], "1 coral of 1 is outside its band."),
        (["below", "above", "within"], "2 corals of 3 are outside their band."),
    ],
)
def test_it_calls_no_coral_inside_whose_light_or_band_is_not_known(keys, words):
    pins = [SimpleNamespace(state=BandState(key, key)) for key in keys]
    assert corals_words(pins) == words


def test_it_names_tank_day_and_depth(as_user, owner, lit):
    file = read(pdf_of(as_user(owner), lit))
    text = " ".join(file.pages[0].extract_text().split())
    day = lit.surveys.get().day()
    for part in (
        f"Light map of {lit.name}",
        f"Measured {day:%-d %b %Y}",
        "25 cm deep",
        "µmol/(m² s)",
    ):
        assert part in text


def test_drawing_has_a_dot_for_each_of_the_printers(as_user, owner, lit, monkeypatch):
    monkeypatch.setattr(pdf, "DOTS_PER_MM", PRINTED_PER_MM)
    (drawn,) = read(pdf_of(as_user(owner), lit)).pages[0].images
    # 300 an inch is what laser printers draw (common practice, no published source).
    assert drawn.image.height == round(pdf.DRAWING_MM[1] / 25.4 * 300)


def test_reader_aids_know_its_title_language_and_drawing(as_user, owner, lit):
    file = read(pdf_of(as_user(owner), lit))
    assert file.metadata.title == f"Light map of {lit.name}"
    root = file.trailer["/Root"]
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"].value is True
    figures = [element.get_object() for element in root["/StructTreeRoot"]["/K"][0]["/K"]]
    assert any("25 cm below the surface" in figure.get("/Alt", "") for figure in figures)


def test_fonts_lie_in_the_file(as_user, owner, lit):
    fonts = read(pdf_of(as_user(owner), lit)).pages[0]["/Resources"]["/Font"]
    for font in fonts.values():
        inner = font.get_object()["/DescendantFonts"][0].get_object()
        assert {"/FontFile2", "/FontFile3"} & inner["/FontDescriptor"].get_object().keys()


@pytest.mark.parametrize(
    "name",
    [
        "Ύφαλος μου",
        "Мой риф",
        "我的珊瑚缸",
        "שונית שלי",
        "🪸 reef \x00\x08",
        "<b> & \\ (",
        "長" * 80,
    ],
)
def test_name_in_any_script_makes_a_file(as_user, owner, lit, name):
    lit.name = name
    lit.save()
    make_coral(lit, name=name[:60])
    file = read(pdf_of(as_user(owner), lit))
    assert len(file.pages) == 1
    shown = "".join(sign for sign in name if sign.isprintable())
    assert file.metadata.title == f"Light map of {shown}"
    if all(ord(sign) in known_letters() for sign in shown):
        assert shown in " ".join(file.pages[0].extract_text().split())


def test_letters_that_the_font_lacks_are_pictures_in_their_order():
    runs = list(runs_of("Riff 缸缸 שונית שלי ж"))
    assert "".join(run.text for run in runs).startswith("Riff ")
    assert [run.text for run in runs if run.picture] == ["缸", "缸", "שונית שלי"]


def test_paper_follows_the_unit_or_the_address(as_user, owner, lit):
    def size(query):
        box = read(pdf_of(as_user(owner), lit, query)).pages[0].mediabox
        return round(box.width), round(box.height)

    assert size(DEEP) == A4_POINTS
    assert size(f"{DEEP}&paper=letter") == LETTER_POINTS
    owner.units = "in"
    owner.save()
    assert size("?depth=10") == LETTER_POINTS
    assert size("?depth=10&paper=a4") == A4_POINTS


def test_more_corals_than_fit_are_counted_and_those_outside_come_first(as_user, owner, lit):
    for number in range(40):
        make_coral(lit, name=f"Branch {number}", band_low_umol=1, band_high_umol=2000)
    make_coral(lit, name="Zealous star", band_low_umol=1900, band_high_umol=2000)
    text = text_of(pdf_of(as_user(owner), lit))
    shown = len(re.findall(r"25 cm deep \d", text))
    left = int(re.search(r"(\d+) more corals? (?:is|are) on the light map", text)[1])
    assert shown + left == 43
    assert "Zealous star" in text


@pytest.mark.parametrize("look", ["seen=side", "seen=3d", "view=sure", "view=shadow", "hide=guess"])
def test_every_look_is_one_page(as_user, owner, lit, look):
    assert len(read(pdf_of(as_user(owner), lit, f"{DEEP}&{look}")).pages) == 1


def test_same_map_makes_the_same_file(as_user, owner, lit, settings):
    first, again = (pdf_of(as_user(owner), lit, f"{DEEP}&unread={n}") for n in (1, 2))
    assert first.content == again.content
