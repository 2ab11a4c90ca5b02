"""The light map as a file: the drawing with its words, legend and colours, as SVG and PNG."""

import io
from xml.etree import ElementTree

import numpy as np
import pytest
from django.urls import reverse
from PIL import Image

from apps.drawing.legend import PAR_SCALE
from apps.lightmap.page.picture import PNG_WIDTH, as_png, drawing_style
from tests.factories import make_coral, make_lit_survey, make_survey

pytestmark = pytest.mark.one_database

SVG = "{http://www.w3.org/2000/svg}"


def picture(client, tank, ending, query=""):
    return client.get(reverse(f"light_map_{ending}", args=[tank.pk]) + query)


def words_of(response):
    root = ElementTree.fromstring(response.content.decode())
    return [text.text for text in root.iter(f"{SVG}text")]


def band_colours(response):
    root = ElementTree.fromstring(response.content.decode())
    return {path.get("fill") for path in root.iter(f"{SVG}path")} & set(PAR_SCALE.colours)


@pytest.mark.parametrize("reader", ["owner", "co_keeper", "viewer"])
@pytest.mark.parametrize(("ending", "kind"), [("png", "image/png"), ("svg", "image/svg+xml")])
def test_those_let_in_take_the_map_along(request, as_user, tank, reader, ending, kind):
    make_survey(tank)
    response = picture(as_user(request.getfixturevalue(reader)), tank, ending)
    assert response["Content-Type"] == kind
    assert response["Content-Disposition"].startswith("attachment;")


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_stranger_and_tank_without_a_map_have_no_picture(as_user, owner, stranger, tank, ending):
    assert picture(as_user(owner), tank, ending).url == reverse("light_map", args=[tank.pk])
    make_survey(tank)
    assert picture(as_user(stranger), tank, ending).status_code == 404


def test_picture_names_tank_day_depth_band_and_corals(as_user, owner, tank):
    survey = make_survey(tank)
    make_coral(tank, name="Quiet <branch> & co")
    tank.name = 'Reef \x08& "rock" <b>'
    tank.save()
    words = " ".join(words_of(picture(as_user(owner), tank, "svg", "?depth=25&low=80&high=160")))
    day = survey.taken_at.astimezone(tank.zone).date()
    for said in ('Reef & "rock" <b>', f"{day:%-d %b %Y}", "25 cm below", "80 to 160", "<branch>"):
        assert said in words


def test_side_view_is_another_picture(as_user, owner, tank):
    make_lit_survey(tank)
    plan, side = (picture(as_user(owner), tank, "svg", f"?seen={s}") for s in ("above", "side"))
    assert "water surface" in words_of(side) and "water surface" not in words_of(plan)
    assert band_colours(plan) and band_colours(side)


def test_png_holds_the_colours_of_the_drawing(as_user, owner, tank):
    make_lit_survey(tank)
    client = as_user(owner)
    image = Image.open(io.BytesIO(picture(client, tank, "png", "?low=1&high=2000").content))
    assert image.width == PNG_WIDTH
    seen = {f"#{r:02x}{g:02x}{b:02x}" for r, g, b in np.unique(
        np.asarray(image.convert("RGB")).reshape(-1, 3), axis=0).tolist()}  # fmt: skip
    drawn = band_colours(picture(client, tank, "svg", "?low=1&high=2000"))
    assert len(drawn & seen) >= 3


def test_style_names_no_colour_that_a_file_does_not_hold():
    style = drawing_style()
    assert ".map-rock" in style and ".dry" in style and "var(" not in style


def test_letters_are_drawn_by_the_font_that_comes_along():
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 90 30"><text y="20">PAR</text></svg>'
    )
    drawn = np.asarray(Image.open(io.BytesIO(as_png(svg, width_px=90))).convert("L"))
    assert (drawn < 100).sum() > 20


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_view_at_a_slant_is_a_picture_too(as_user, owner, tank, ending):
    make_lit_survey(tank)
    make_coral(tank, name="Quiet branch")
    response = picture(as_user(owner), tank, ending, "?seen=3d")
    if ending == "png":
        assert Image.open(io.BytesIO(response.content)).width == PNG_WIDTH
        return
    words = " ".join(words_of(response))
    assert "FRONT" in words and "Quiet branch" in words and "back pane" not in words
    assert len(band_colours(response)) >= 3
