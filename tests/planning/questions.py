"""Questions of layout plans as a browser posts them, small enough to be searched at once."""

from apps.photics.ground.scene import Tank
from apps.photics.layout.advice.spectrum_wish import SpectrumWish
from apps.photics.layout.question import Candidate, Limits, Question, Zone
from apps.photics.rig.fixture_light import output_estimate
from apps.planning.stored_layout import StoredQuestion, write_question
from tests.factories import make_plan


def posted(**overrides):
    """Return the fields of a question for a tank of 60 x 60 x 50 cm."""
    fields = {
        "name": "One panel", "notes": "For the window side.",
        "zone-TOTAL_FORMS": "1", "zone-INITIAL_FORMS": "0",
        "zone-0-name": "The rock", "zone-0-weight": "1.0",
        "zone-0-band_in": "par", "zone-0-low": "75", "zone-0-high": "150",
        "zone-0-x_from": "10", "zone-0-x_to": "50", "zone-0-y_from": "10", "zone-0-y_to": "50",
        "zone-0-depth_from": "25", "zone-0-depth_to": "40",
        "fixture-TOTAL_FORMS": "1", "fixture-INITIAL_FORMS": "0",
        "fixture-0-source": "kind:mid", "fixture-0-optics": "110",
        "fixture-0-owned": "", "fixture-0-price": "200",
        "count": "1", "fill_count": "0", "height_from": "15", "height_to": "35",
        "x_from": "", "x_to": "", "y_from": "", "y_to": "", "budget": "", "watts": "",
        "day_hours": "9", "price_kwh": "0.30",
    }  # fmt: skip
    return fields | overrides


def posted_box(**overrides):
    """Return the fields of a question for a tank that is only measures yet."""
    box = {"length_cm": "60", "width_cm": "60", "depth_cm": "50", "back_pane": "clear"}
    return posted(**(box | overrides))


def small_question(**limits):
    zone = Zone("The rock", (10, 50), (10, 50), (25, 40), 75, 150)
    panel = Candidate("Mid-power panel", "panel", 20, 20, (110.0, 55.0),
                      output_estimate(ppf_umol_s=60), 45.0)  # fmt: skip
    hung = {"height_cm": (15, 35), "x_cm": (0, 60), "y_cm": (0, 60), "count": 2} | limits
    return Question(Tank(60, 60, 50, bottom="sand"), (zone,), (panel,), Limits(**hung))


def make_layout_plan(owner, tank=None, **overrides):
    """Make a plan whose question was never worked on."""
    asked = StoredQuestion(small_question(), ("kind:mid",), 9.0, None)
    return make_plan(owner, tank, asked=write_question(asked), **overrides)


def make_wished_plan(owner, tank, source):
    """Make a plan that wishes a colour, of a fixture by whatever source."""
    wish = SpectrumWish(blue=(0.0, 1.0))
    asked = StoredQuestion(small_question(), (source,), 9.0, None, wish=wish)
    return make_plan(owner, tank, asked=write_question(asked))
