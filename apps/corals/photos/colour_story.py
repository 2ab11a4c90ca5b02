"""A coral's colour over its photos: each measured, against its own baseline and its own range."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

import numpy as np

from apps.common.moments import day_text
from apps.corals.colour_models import PhotoColour
from apps.corals.models import Coral, HealthNote, Photo
from apps.photics.colour.cielab import linear_of_lab, srgb_of_linear
from apps.photics.colour.looks import difference_between, moved_surely, pair_covariance
from apps.photics.colour.own_range import HISTORY_MIN, OwnRange, own_range
from apps.photics.colour.problems import Problem
from apps.photics.colour.scales import (
    Value,
    browning,
    browning_of,
    chroma_of,
    deviation_along,
    hue_of,
    lightness_of,
    paleness,
    paleness_of,
)
from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.normal import NORMAL_90

# Where one hue word ends and the next begins [degrees]: plain English, house rule.
HUE_WORDS = (
    (20, "pink"), (45, "red"), (70, "orange-brown"), (95, "yellow-brown"), (115, "yellow-green"),
    (170, "green"), (220, "blue-green"), (285, "blue"), (330, "violet"), (360, "pink"),
)  # fmt: skip
GREY_CHROMA = 6.0
# A difference whose whole interval lies above this is called clear [dE00]: our own choice, about
# what an eye sees without looking twice.
CLEAR_FROM = 3.0
# How sure a comparison is, where one camera did not take both photos without the printed card.
LESS_SURE = {
    False: "Taken with another camera or mode: less sure.",
    None: "The photos don’t say which camera took them: less sure.",
}
# What a photo was measured against, and in which light.
Series = tuple[str, str]
INDICES = {"paleness": paleness, "browning": browning}
# What leaving the own range is called, and the note that would tell it. Paler and browner come
# before their opposites: they are what a keeper has to look at.
SIDES = (
    ("paleness", "above", "paler", HealthNote.Seen.PALING),
    ("browning", "above", "browner", HealthNote.Seen.BROWNING),
    ("paleness", "below", "darker", HealthNote.Seen.OTHER),
    ("browning", "below", "less brown", HealthNote.Seen.COLOUR_GAIN),
)


@dataclass(frozen=True)
class ColourPoint:
    """The colour of one photo; all numbers are None where it could not be measured."""

    colour: PhotoColour
    day: dt.date
    photo_key: UUID
    problems: tuple[Problem, ...]
    # Measured like the main series, so that it stands in the chart and has a baseline there.
    compared: bool = False
    hex: str | None = None
    lightness: Value | None = None
    chroma: Value | None = None
    hue_deg: float | None = None
    hue_words: str = ""
    paleness: Value | None = None
    browning: Value | None = None
    # From the baseline, None for the baseline itself.
    difference: Value | None = None
    change_words: str = ""
    # "clearly", "probably" or "", and why the comparison is less sure than it could be, or "".
    sure_words: str = ""
    less_sure_words: str = ""
    is_baseline: bool = False
    baseline_day: dt.date | None = None

    @property
    def measured(self) -> bool:
        return self.hex is not None

    @property
    def number_words(self) -> str:
        """The difference from the baseline as a number, or what may hide where it is not sure."""
        if self.difference is None:
            return ""
        value, low, high = (getattr(self.difference, name) for name in ("value", "low", "high"))
        if not self.sure_words:
            return f"A difference up to dE00 {high:.0f} could hide in these photos."
        return f"dE00 {value:.1f} ({low:.1f}–{high:.1f})"

    @property
    def baseline_words(self) -> str:
        """How it stands to the first photo of its series; "" where that is not known."""
        if self.change_words and self.baseline_day:
            return f"{self.change_words} of {day_text(self.baseline_day)}"
        return "this photo is the baseline" if self.is_baseline else ""

    @property
    def remarks(self) -> str:
        """What a table says of it in a few words."""
        odd = "" if self.compared else "other light or reference"
        unlike = self.less_sure_words.rstrip(".").lower()
        return "; ".join(filter(None, (self.change_words, unlike, odd)))

    @property
    def sentence(self) -> str:
        """The change from the baseline in one sentence, how sure first; "" for a baseline."""
        if self.difference is None or self.baseline_day is None:
            return ""
        day = day_text(self.baseline_day)
        if not self.sure_words:
            return f"No sure change since {day}."
        words = self.change_words.removesuffix(" than its baseline")
        return f"{self.sure_words.capitalize()} {words} than on {day}."


@dataclass(frozen=True)
class Question:
    """A change the newest photo shows, for the keeper to confirm."""

    colour: PhotoColour
    day: dt.date
    words: str
    value: Value
    range: OwnRange
    index_name: str
    seen: str


@dataclass(frozen=True)
class ColourStory:
    points: tuple[ColourPoint, ...]
    question: Question | None
    # Own ranges after the newest photo, by index; None while the history is short.
    ranges: dict[str, OwnRange | None]
    series_words: str
    compared_count: int
    others_count: int
    history_min: int = HISTORY_MIN

    @property
    def compared(self) -> tuple[ColourPoint, ...]:
        return tuple(point for point in self.points if point.compared)

    @property
    def newest(self) -> ColourPoint | None:
        """The newest photo that is compared with a baseline, or None."""
        return next((p for p in reversed(self.compared) if p.difference is not None), None)

    @property
    def newest_first(self) -> tuple[ColourPoint, ...]:
        return tuple(reversed(self.points))


def colour_story(coral: Coral) -> ColourStory:
    """Return the ColourStory of a coral: one query."""
    rows = list(PhotoColour.objects.of_coral(coral))
    main = main_series(rows)
    points = colour_points(rows, main)
    compared = [point for point in points if point.compared]
    ranges = {name: range_of(compared, name) for name in ("paleness", "browning")}
    return ColourStory(
        points=tuple(points),
        question=question_of(compared),
        ranges=ranges,
        series_words=series_words(main),
        compared_count=len(compared),
        others_count=sum(point.measured and not point.compared for point in points),
    )


def colour_between(before: Photo, after: Photo) -> ColourPoint | None:
    """Return how the colour of one photo stands to that of another, or None: not both measured.

    Where they don't compare, its sentence is empty.
    """
    rows = PhotoColour.objects.present().filter(photo__in=(before, after))
    by_photo = {row.photo_id: row for row in rows.select_related("photo__note")}
    row, baseline = by_photo.get(after.pk), by_photo.get(before.pk)
    if row is None or baseline is None or row.lab is None or baseline.lab is None:
        return None
    alike = row.series == baseline.series and row.pk != baseline.pk
    return colour_point(row, baseline if alike else row, row.series)


def latest_colours(corals: Iterable[Coral]) -> dict[int, ColourPoint]:
    """Return {coral pk: ColourPoint} of the newest photo compared with a baseline: one query."""
    rows: dict[int, list[PhotoColour]] = {}
    for row in PhotoColour.objects.of_corals(corals):
        rows.setdefault(row.photo.note.coral_id, []).append(row)
    result = {}
    for coral, of_one in rows.items():
        compared = [p for p in colour_points(of_one, main_series(of_one)) if p.compared]
        if compared and compared[-1].difference:
            result[coral] = compared[-1]
    return result


def colour_points(rows: Iterable[PhotoColour], main: Series | None) -> list[ColourPoint]:
    """Return a ColourPoint of each PhotoColour of one coral, oldest first; `main` its series."""
    baselines: dict[Series, PhotoColour] = {}
    points = []
    for row in rows:
        if row.lab is not None:
            baselines.setdefault(row.series, row)
        points.append(colour_point(row, baselines.get(row.series), main))
    return points


def main_series(rows: Sequence[PhotoColour]) -> Series | None:
    """Return the series most photos belong to, the newest of several; None without a colour."""
    counts = Counter(row.series for row in rows if row.lab is not None)
    most = max(counts.values(), default=0)
    return next((r.series for r in reversed(rows) if counts.get(r.series, 0) == most > 0), None)


def series_words(series: Series | None) -> str:
    if series is None:
        return ""
    kind, light = PhotoColour.ReferenceKind(series[0]), PhotoColour.Light(series[1])
    return f"{light.label}, against {kind.label}"


def colour_point(
    row: PhotoColour, baseline: PhotoColour | None, main: Series | None
) -> ColourPoint:
    """Return the ColourPoint of a PhotoColour; `baseline` is the first of its series."""
    facts = {
        "colour": row,
        "day": row.photo.note.noted_on,
        "photo_key": row.photo.key,
        "problems": row.problems,
    }
    if row.lab is None or baseline is None:
        return ColourPoint(**facts)
    lab, covariance = row.lab, row.lab_covariance
    chroma, hue = chroma_of(lab, covariance), hue_of(lab)
    first = row.pk == baseline.pk
    apart = None if first else difference(row, baseline)
    unlike = "" if first else less_sure_words(row, baseline)
    return ColourPoint(
        **facts,
        compared=row.series == main,
        hex=hex_of(lab),
        lightness=lightness_of(lab, covariance),
        chroma=chroma,
        hue_deg=hue,
        hue_words=hue_words(hue, chroma.value),
        paleness=paleness_of(lab, covariance),
        browning=browning_of(lab, covariance),
        difference=apart,
        change_words="" if apart is None else change_words(row, baseline, apart),
        sure_words="" if apart is None else sure_words(apart),
        less_sure_words=unlike,
        is_baseline=first,
        baseline_day=baseline.photo.note.noted_on,
    )


def hex_of(lab: FloatArray) -> str:
    """Return a colour as a screen can show it, "#a1b2c3", held to what screens can show."""
    return "#" + "".join(f"{round(255 * float(c)):02x}" for c in srgb_of_linear(linear_of_lab(lab)))


def hue_words(hue_deg: float, chroma: float) -> str:
    if chroma < GREY_CHROMA:
        return "nearly grey"
    return next(word for end, word in HUE_WORDS if hue_deg < end or end == 360)


def difference(row: PhotoColour, baseline: PhotoColour) -> Value:
    """Return dE00 of two measured colours of one series; an unknown camera counts as another."""
    same = bool(row.same_camera(baseline))
    return difference_between(row.compared, baseline.compared, same_look=same)


def less_sure_words(row: PhotoColour, baseline: PhotoColour) -> str:
    """Say why two colours compare less surely; "" for one camera, or with the printed card."""
    if row.reference_kind == PhotoColour.ReferenceKind.CARD:
        return ""
    return LESS_SURE.get(row.same_camera(baseline), "")


def sure_words(apart: Value) -> str:
    """Say how sure a difference is: "clearly", "probably", or "" where there may be none."""
    if apart.low == 0.0:
        return ""
    return "clearly" if apart.low >= CLEAR_FROM else "probably"


def change_words(row: PhotoColour, baseline: PhotoColour, apart: Value) -> str:
    """Say how a colour differs from its baseline, or that it can't be told apart from it."""
    if apart.low == 0.0:
        return "not told apart from its baseline"
    words = [
        word
        for function, more, less in (
            (paleness, "paler", "darker"),
            (browning, "browner", "less brown"),
        )
        if (word := moved_word(function, more, less, row, baseline))
    ]
    return f"{' and '.join(words) or 'another hue'} than its baseline"


def moved_word(
    function: Callable[[FloatArray], FloatArray],
    more: str,
    less: str,
    row: PhotoColour,
    baseline: PhotoColour,
) -> str:
    """Return `more` or `less` where an index surely moved, else ""."""
    same = bool(row.same_camera(baseline))
    together = pair_covariance(row.compared, baseline.compared, same_look=same)
    moved = moved_surely(function, row.lab, baseline.lab, together)
    if moved == 0.0:
        return ""
    return more if moved > 0 else less


def range_of(points: Iterable[ColourPoint], name: str) -> OwnRange | None:
    """Return the OwnRange of an index over points, those left out that were a confirmed event."""
    usual = [p for p in points if p.colour.answer != PhotoColour.Answer.SEEN]
    return own_range(np.array([getattr(point, name).value for point in usual]))


def look_slack(
    row: PhotoColour, earlier: PhotoColour, function: Callable[[FloatArray], FloatArray]
) -> float:
    """Return by how much another camera alone may move an index; 0 for the camera of before."""
    if row.same_camera(earlier) is not False:
        return 0.0
    other, same = (
        pair_covariance(row.compared, earlier.compared, same_look=look) for look in (False, True)
    )
    deviations = [deviation_along(function, row.lab, together) for together in (other, same)]
    return NORMAL_90 * max(deviations[0] - deviations[1], 0.0)


def question_of(compared: Sequence[ColourPoint]) -> Question | None:
    """Return the Question the newest photo asks, or None: it is within, short, or answered."""
    if not compared or compared[-1].colour.answer != PhotoColour.Answer.NONE:
        return None
    newest, before = compared[-1], compared[:-1]
    for name, side, words, seen in SIDES:
        usual, value = range_of(before, name), getattr(newest, name)
        if usual is None:
            continue
        slack = look_slack(newest.colour, before[-1].colour, INDICES[name])
        nearer = value.value - slack if side == "above" else value.value + slack
        if usual.side(nearer) == side:
            return Question(newest.colour, newest.day, words, value, usual, name, str(seen))
    return None
