"""The demo scenario as tables: two invented tanks and half a year of what happened in them.

Everything is dated in days before the day it is loaded. People, places and corals are invented.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Hung:
    """A lamp of the rig: middle x, y and height [cm], level [%]."""

    x_cm: float
    y_cm: float
    height_cm: float
    level_percent: float
    beam_deg: float | None = None  # of a lens, else the lamp's own


@dataclass(frozen=True)
class ChangeRow:
    days_ago: int
    summary: str
    rig: tuple[Hung, ...]
    day_hours: float | None = None
    ramp_hours: float = 0.0
    reason: str = "hung"
    factor: float = 1.0


@dataclass(frozen=True)
class DayRow:
    """A named day curve (hour of the day, level [%]), and when it was started, if it was."""

    name: str
    points: tuple[tuple[float, float], ...]
    started_days_ago: int | None = None
    is_moonlight: bool = False


@dataclass(frozen=True)
class SurveyRow:
    days_ago: int
    light_note: str
    depths_cm: tuple[float, ...]
    columns: int
    rows: int


@dataclass(frozen=True)
class CoralRow:
    """A coral with its spots (days ago, x, y, depth [cm]) and telling notes (days ago, ...)."""

    name: str
    group: str
    spots: tuple[tuple[int, float, float, float], ...]
    notes: tuple[tuple[int, str, int, str], ...] = ()
    band: tuple[float, float] | None = None
    # Its true colour (days ago, CIELAB), between these days in between; each note has a photo then.
    colours: tuple[tuple[int, tuple[float, float, float]], ...] = ()


@dataclass(frozen=True)
class WaterRow:
    days_ago: int
    kind: str
    text: str
    value: float | None = None
    unit: str = ""
    could_hurt: bool = False


@dataclass(frozen=True)
class PlanRow:
    """A layout asked of the tank's own lamp: zones by what lives there, optics [degrees]."""

    name: str
    notes: str
    zones: tuple[str, ...]
    beams_deg: tuple[float, ...]
    count: int
    owned: int
    day_hours: float


@dataclass(frozen=True)
class TankRow:
    name: str
    box_cm: tuple[float, float, float]
    back_pane: str
    rocks: tuple[tuple[str, float, float, float, float, float, float], ...]
    lamp: str
    lamp_cm: tuple[float, float]
    beam_deg: float
    ppf_umol_s: float
    changes: tuple[ChangeRow, ...]
    surveys: tuple[SurveyRow, ...]
    corals: tuple[CoralRow, ...]
    plans: tuple[PlanRow, ...] = ()
    water: tuple[WaterRow, ...] = ()
    days: tuple[DayRow, ...] = ()
    channels: tuple[tuple[str, float | None, float | None, float], ...] = ()
    watts: float | None = None


def over_cube(level_percent, height_cm=18.0):
    return (Hung(22.5, 24.0, height_cm, level_percent),)


def over_shelf(level_percent):
    return tuple(Hung(x, 24.0, 24.0, level_percent) for x in (52.0, 98.0))


# Days of photos between the usual notes of the coral that is photographed.
PHOTO_DAYS = (167, 150, 133, 116, 99)


CUBE = TankRow(
    name="Harbour cube",
    box_cm=(45.0, 45.0, 40.0),
    back_pane="clear",
    rocks=(
        ("the crest", 14.0, 22.0, 16.0, 18.0, 14.0, 24.0),
        ("the step", 6.0, 12.0, 30.0, 14.0, 10.0, 10.0),
    ),
    lamp="Square panel",
    lamp_cm=(18.0, 18.0),
    beam_deg=75.0,
    ppf_umol_s=70.0,
    watts=36.0,
    changes=(
        ChangeRow(183, "Hung the panel 18 cm above the water, at 60 %", over_cube(60), 10.0, 1.0),
        ChangeRow(101, "Turned up from 60 to 84 %, in one step", over_cube(84), reason="level"),
        ChangeRow(
            70, "Turned back to 66 % after the staghorn paled", over_cube(66), reason="level"
        ),
        ChangeRow(
            16,
            "Raised for a wider spread, and turned up to make good for it",
            over_cube(80, 24.0),
            reason="raised",
        ),
    ),
    channels=(("Royal blue", 450, None, 62), ("White", None, 10_000, 38)),
    surveys=(
        SurveyRow(176, "Pumps on, no lid, panel at 60 %", (6.0, 18.0, 32.0), 3, 3),
        SurveyRow(38, "Pumps on, no lid, panel at 66 %", (6.0, 18.0, 32.0), 3, 3),
    ),
    corals=(
        CoralRow(
            "Cream staghorn",
            "sps",
            ((180, 22.0, 27.0, 10.0),),
            (
                (82, "paling", 2, "Tips and upper side clearly lighter than in the last photo."),
                (73, "paling", 3, "Lighter still, polyps in. Turning the panel back."),
                (31, "colour_gain", 1, "The cream is coming back from the base up."),
                *((days_ago, "well", 2, "Photo of the week.") for days_ago in PHOTO_DAYS),
            ),
            colours=(
                (180, (62.0, 5.0, 26.0)),
                (99, (62.5, 5.0, 26.0)),
                (73, (79.0, 1.0, 13.0)),
                (31, (71.0, 3.0, 19.0)),
            ),
        ),
        CoralRow("Green table", "sps", ((178, 28.0, 27.0, 13.0),), band=(200.0, 420.0)),
        CoralRow("Violet plate", "sps", ((170, 16.0, 18.0, 22.0),)),
        CoralRow("Orange hammer", "lps", ((178, 38.0, 10.0, 33.0),)),
        CoralRow("Grey leather", "soft", ((183, 4.0, 41.0, 38.0),)),
    ),
    plans=(
        PlanRow(
            "A second panel, or a lens?",
            "Before buying another: would a wide lens do?",
            ("sps", "lps"),
            (75.0, 110.0),
            2,
            1,
            9.0,
        ),
    ),
    water=(
        *(
            WaterRow(days, "alkalinity", "weekly test", value, "dKH")
            for days, value in ((150, 7.9), (122, 8.1), (94, 8.0), (66, 7.8), (38, 8.2), (10, 8.0))
        ),
        WaterRow(55, "water_change", "", 15, "litres"),
        WaterRow(25, "temperature", "a hot week, fan added", 28.9, "°C", could_hurt=True),
    ),
)

SHELF = TankRow(
    name="The long shelf",
    box_cm=(150.0, 50.0, 50.0),
    back_pane="dark",
    rocks=(
        ("left shelf", 36.0, 24.0, 24.0, 24.0, 18.0, 8.0),
        ("right shelf", 90.0, 22.0, 22.0, 26.0, 20.0, 8.0),
        ("the foot", 68.0, 30.0, 40.0, 16.0, 14.0, 10.0),
    ),
    lamp="Long panel",
    lamp_cm=(30.0, 16.0),
    beam_deg=75.0,
    ppf_umol_s=120.0,
    watts=62.0,
    changes=(
        ChangeRow(168, "Hung two panels 24 cm above, at 70 %", over_shelf(70), 9.0, 1.5),
        ChangeRow(
            40,
            "Wiped the salt off the panels: a little brighter",
            over_shelf(70),
            reason="cleaned",
            factor=1.04,
        ),
    ),
    days=(
        # Half an hour longer than the hours told first, straight ramps of an hour and a half.
        DayRow("Long day", ((11, 0), (12.5, 100), (19, 100), (20.5, 0)), started_days_ago=104),
        DayRow("Soft evening", ((10, 0), (12, 100), (17, 100), (19, 40), (21.5, 0))),
        DayRow("Moonlight", ((21.5, 2), (6, 2)), is_moonlight=True),
    ),
    # Name, peak [nm] or white [K], share of PAR [%].
    channels=(
        ("Violet", 420, None, 10),
        ("Royal blue", 450, None, 50),
        ("White", None, 8000, 36),
        ("Red", 660, None, 4),
    ),
    surveys=(SurveyRow(150, "Return pump on, wave pumps off", (8.0, 21.0, 42.0), 5, 3),),
    corals=(
        CoralRow(
            "Amber stag",
            "sps",
            ((160, 11.0, 38.0, 34.0),),
            (
                (58, "browning", 2, "The amber has gone dull and brown from below."),
                (44, "browning", 2, "Brown all over now. The far end gets little light."),
            ),
        ),
        CoralRow("Blue stag", "sps", ((162, 100.0, 30.0, 18.0),)),
        CoralRow("Yellow porous", "sps", ((150, 46.0, 30.0, 21.0),)),
        CoralRow("Rose bubble", "lps", ((165, 118.0, 8.0, 46.0),)),
        CoralRow("Striped brain", "lps", ((120, 130.0, 12.0, 46.0),)),
        CoralRow("Finger leather", "soft", ((166, 16.0, 10.0, 46.0), (90, 20.0, 10.0, 40.0))),
        CoralRow("Button colony", "other", ((140, 30.0, 12.0, 46.0),)),
    ),
    water=(
        WaterRow(132, "nutrients", "nitrate, after a month of feeding more", 18, "mg/L nitrate"),
        WaterRow(88, "animals", "two gobies from the club"),
        WaterRow(61, "dosing", "pump ran twice, alkalinity up", 9.8, "dKH", could_hurt=True),
    ),
)

TANKS = (CUBE, SHELF)

# What is written when a coral looks as it should.
WELL_WORDS = (
    "Open and full.",
    "Colour as before.",
    "Good polyps this evening.",
    "Growing at the edge.",
    "Nothing new.",
    "",
)
