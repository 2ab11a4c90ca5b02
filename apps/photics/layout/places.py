"""Regular arrangements of fixtures over a tank: rows and columns with a pitch, round a middle."""

from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from apps.photics.layout.question import Choice, Question
from apps.photics.layout.score import Layout, Scorer

# Places are told to half a centimetre: no ceiling hook is nearer to its mark [cm].
PLACE_STEP_CM = 0.5
# Pitches tried, as shares of an even spread over the tank, and heights within what is allowed.
PITCHES = (0.65, 0.85, 1.0)
HEIGHTS_TRIED = 3
FILL_HEIGHTS_TRIED = 2
# Where one tube or bar for fill lies from front to back, and how far several reach [share].
FILL_SINGLE, FILL_SPREAD = (0.15, 0.5, 0.85), (0.5, 0.7)


@dataclass(frozen=True)
class Pattern:
    """Rows and columns of fixtures round a middle, all lengths [cm]."""

    columns: int
    rows: int
    middle_x_cm: float
    middle_y_cm: float
    pitch_x_cm: float
    pitch_y_cm: float

    def places(self):
        """Return the middles of the fixtures, (columns x rows) pairs on the place lattice [cm]."""
        x = self.middle_x_cm + (np.arange(self.columns) - (self.columns - 1) / 2) * self.pitch_x_cm
        y = self.middle_y_cm + (np.arange(self.rows) - (self.rows - 1) / 2) * self.pitch_y_cm
        return tuple((snapped(a), snapped(b)) for b in y for a in x)


def snapped(length_cm):
    """Return the nearest place of the lattice [cm]."""
    return float(round(length_cm / PLACE_STEP_CM) * PLACE_STEP_CM)


def grids(count):
    """Return (columns, rows) for a count, each once."""
    return [(count // rows, rows) for rows in range(1, count + 1) if count % rows == 0]


def middles(question: Question):
    """Return the middles tried: that of the tank, and that of the zones by weight [cm]."""
    tank = question.tank
    weight = np.array([zone.weight for zone in question.zones])
    centre = [(sum(zone.x_cm) / 2, sum(zone.y_cm) / 2) for zone in question.zones]
    x, y = weight @ np.array(centre) / weight.sum()
    tried = [(tank.length_cm / 2, tank.width_cm / 2), (snapped(x), snapped(y))]
    brightest = max(question.zones, key=lambda zone: zone.low_umol)
    tried.append((snapped(sum(brightest.x_cm) / 2), snapped(sum(brightest.y_cm) / 2)))
    return list(dict.fromkeys(tried))


def patterns(question: Question, number, count):
    """Return the Patterns tried for `count` fixtures of candidate `number`."""
    tank, candidate, found = question.tank, question.candidates[number], []
    for columns, rows in grids(count):
        if (columns - 1) * candidate.panel_x_cm > tank.length_cm:
            continue
        if (rows - 1) * candidate.panel_y_cm > tank.width_cm:
            continue
        # One fixture along a side has no pitch to try.
        wide = PITCHES if columns > 1 else PITCHES[-1:]
        deep = PITCHES if rows > 1 else PITCHES[-1:]
        for (x, y), a, b in product(middles(question), wide, deep):
            pitch_x, pitch_y = tank.length_cm / columns, tank.width_cm / rows
            found.append(Pattern(columns, rows, x, y, max(a * pitch_x, candidate.panel_x_cm),
                                 max(b * pitch_y, candidate.panel_y_cm)))  # fmt: skip
    return list(dict.fromkeys(found))


def heights(question: Question, tried):
    """Return evenly spaced heights within what is allowed, whole centimetres [cm]."""
    low, high = question.limits.height_cm
    return list(dict.fromkeys(float(round(h)) for h in np.linspace(low, high, tried)
                              if low <= round(h) <= high)) or [float(low)]  # fmt: skip


def fill_patterns(question: Question, choice: Choice):
    """Return the Patterns tried for the fill of a choice: one row each, front to back."""
    tank, candidate = question.tank, question.candidates[choice.fill]
    middle_x, width = tank.length_cm / 2, tank.width_cm
    if choice.fill_count == 1:
        return [Pattern(1, 1, middle_x, at * width, 0.0, 0.0) for at in FILL_SINGLE]
    return [
        Pattern(1, choice.fill_count, middle_x, width / 2, 0.0,
                max(share * width / (choice.fill_count - 1), candidate.panel_y_cm))
        for share in FILL_SPREAD
    ]  # fmt: skip


def starts(scorer: Scorer, choice: Choice):
    """Return the Layouts of all regular hangings of a choice."""
    question, found = scorer.question, []
    mains = patterns(question, choice.main, choice.count)
    for pattern, height in product(mains, heights(question, HEIGHTS_TRIED)):
        layout = Layout(choice, pattern.places(), height)
        if choice.fill is None:
            found.append(layout)
            continue
        for fill, above in product(
            fill_patterns(question, choice), heights(question, FILL_HEIGHTS_TRIED)
        ):
            found.append(replace(layout, fill_places_cm=fill.places(), fill_height_cm=above))
    return [layout for layout in found if scorer.fits(layout)]
