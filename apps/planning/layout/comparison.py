"""Answers beside each other: one recommended with its reason, and what each is best at."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from apps.photics.ground.usual_bands import band_dli_mol
from apps.photics.layout.advice.recommended import BALANCED, LitAnswer, recommended
from apps.photics.layout.hanging import HungKind
from apps.photics.layout.question import Zone
from apps.photics.layout.score import SERVED
from apps.photics.layout.zone_light import ZoneLight
from apps.planning.layout.costs import YEARS
from apps.planning.layout.fixtures.colour import KindColour, kind_colours
from apps.planning.layout.light_picture import LightPicture
from apps.planning.layout.page import AnswerPage, LayoutPage
from apps.planning.layout.words import REASON_WORDS, WEIGHT_WORDS, evenness_words, length_words

# A zone is served from this share on [%].
SERVED_PERCENT = 100.0 * SERVED
# Where the line of shares begins in its drawing, one unit to a percent.
LINE_LEFT = 5.0


@dataclass(frozen=True)
class ZoneBar:
    """The share of a zone in its band: surely, likely, perhaps [%], and its daily light [mol]."""

    light: ZoneLight
    surely: float
    likely: float
    perhaps: float
    dli_mol: float
    low_dli_mol: float
    high_dli_mol: float
    wanted_dli_mol: tuple[float, float]

    @property
    def wanted_words(self) -> str:
        """Return the band of the zone both ways, and how its upper edge counts."""
        zone, (low, high) = self.light.zone, self.wanted_dli_mol
        edge = "; above that, watch for paling" if zone.high_is_soft else ""
        par = f"PAR {zone.low_umol:.0f}–{zone.high_umol:.0f}"
        return f"{low:.1f}–{high:.1f}\u00a0mol a day, {par}{edge}"

    @property
    def is_bright(self) -> bool:
        """Whether more light than its band has is likely, where that is a caution only."""
        return self.light.zone.high_is_soft and self.dli_mol > self.wanted_dli_mol[1]

    @property
    def dot_x(self) -> float:
        """Return where the likely share stands on its line."""
        return LINE_LEFT + self.likely

    @property
    def bar_x(self) -> float:
        """Return where the range from surely to perhaps begins on its line."""
        return LINE_LEFT + self.surely

    @property
    def bar_width(self) -> float:
        """Return how long the range from surely to perhaps is on its line."""
        return max(self.perhaps - self.surely, 0.0)

    @property
    def state(self) -> str:
        """Return "within" only where it surely is, else "unknown", "below" or "above"."""
        if self.light.surely_served:
            return "above" if self.is_bright else "within"
        return "unknown" if self.light.served else self.light.state

    @property
    def words(self) -> str:
        """Return how sure it is that the zone is served."""
        if self.light.surely_served:
            # Served, since more is only a caution: but nobody who wanted shade calls it that.
            return "more than its band" if self.is_bright else "surely served"
        if self.light.served:
            return "likely more than its band" if self.is_bright else "likely served"
        side = "too dim" if self.light.state == "below" else "too bright"
        return (
            f"perhaps served, else {side}" if self.perhaps >= SERVED_PERCENT else f"partly {side}"
        )


@dataclass(frozen=True)
class Column:
    """One answer as the comparison has it."""

    answer: AnswerPage
    recommended: bool
    roles: tuple[str, ...]
    picture: LightPicture
    bars: tuple[ZoneBar, ...]  # in the order of the zones
    heights: str
    levels: str
    evenness: str
    shadow_percent: float
    colours: tuple[KindColour, ...] = ()


@dataclass(frozen=True)
class Comparison:
    """All answers of a plan beside each other, and why the first is recommended."""

    columns: tuple[Column, ...]
    reason: str
    best: dict[str, int]  # the number of the answer that is best in a row
    weigh: str = BALANCED  # what the recommendation weighs
    years: int = YEARS  # that buying and running are summed up over

    @property
    def zone_words(self) -> list[tuple[Zone, str]]:
        """Return each zone and what is wanted in it."""
        bars = self.columns[0].bars if self.columns else ()
        return [(bar.light.zone, bar.wanted_words) for bar in bars]

    @property
    def knows_price(self) -> bool:
        """Whether the price of any is known, so that all have a line for it."""
        return any(column.answer.costs.price is not None for column in self.columns)

    @property
    def knows_watts(self) -> bool:
        """Whether the power of any is known."""
        return any(column.answer.costs.watts is not None for column in self.columns)

    @property
    def can_weigh(self) -> bool:
        """Whether there is a choice between money and certainty."""
        priced = all(column.answer.costs.price is not None for column in self.columns)
        return len(self.columns) > 1 and priced

    @property
    def recommended(self) -> Column | None:
        """Return the recommended answer, None where there is none at all."""
        return next((column for column in self.columns if column.recommended), None)


def comparison(page: LayoutPage, *, unit: str, weigh: str = BALANCED) -> Comparison:
    """Return the Comparison of a finished page's answers, the recommended one first.

    `weigh` is one of WEIGHT_WORDS; another is taken for the first.
    """
    weigh = weigh if weigh in WEIGHT_WORDS else BALANCED
    answers = page.answers
    if not answers:
        return Comparison((), "", {})
    lit = [LitAnswer(one.answer, one.zones) for one in answers]
    number, reason = recommended(page.stored.question, lit, weigh=weigh)
    first = answers[number]
    ordered = [first, *(answer for answer in answers if answer is not first)]
    columns = tuple(
        Column(
            answer=answer,
            recommended=answer is first,
            roles=answer.best_words,
            picture=answer.picture,
            bars=tuple(zone_bar(page, light) for light in answer.zones),
            heights=heights_of(answer, unit),
            levels=levels_of(answer),
            evenness=evenness_words(min(light.evenness for light in answer.zones)),
            shadow_percent=mean_shadow(answer),
            colours=kind_colours(page.stored, answer.answer.layout, page.library),
        )
        for answer in ordered
    )  # fmt: skip
    return Comparison(columns, REASON_WORDS[reason], best_of(answers), weigh)


def heights_of(answer: AnswerPage, unit: str) -> str:
    """Return how high above the water the lit sides hang, in the keeper's unit."""
    return by_kind(answer, lambda kind: length_words(unit)(kind.height_cm))


def levels_of(answer: AnswerPage) -> str:
    """Return the levels at which the lamps run."""
    return by_kind(answer, lambda kind: f"{100 * kind.level:.0f}\u00a0%")


def by_kind(answer: AnswerPage, words: Callable[[HungKind], str]) -> str:
    """Return what is said of each kind that hangs; where they differ, with its lamp's name.

    Lamps of one name are told apart by how many they are.
    """
    said = [(count, name, words(kind)) for (count, name, _), kind
            in zip(answer.kinds, answer.answer.layout.hung, strict=True)]  # fmt: skip
    if len({text for _, _, text in said}) == 1:
        return said[0][2]
    if len({name for _, name, _ in said}) == 1:
        return ", ".join(f"{count} at {text}" for count, _, text in said)
    return ", ".join(f"{name} {text}" for _, name, text in said)


def answer_words(compared: Comparison) -> str:
    """Return the recommended answer in words, empty where there is none."""
    column = compared.recommended
    if column is None:
        return ""
    return " + ".join(f"{count} × {name}, {beam:g}°" for count, name, beam in column.answer.lamps)


def zone_bar(page: LayoutPage, light: ZoneLight) -> ZoneBar:
    """Return the ZoneBar of a zone's light."""
    dli, zone, hours = page.stored.dli_of, light.zone, page.stored.day_hours
    return ZoneBar(
        light=light,
        surely=light.surely_percent,
        likely=light.likely_percent,
        perhaps=light.perhaps_percent,
        dli_mol=dli(light.mean_umol),
        low_dli_mol=dli(light.low_umol),
        high_dli_mol=dli(light.high_umol),
        wanted_dli_mol=band_dli_mol((zone.low_umol, zone.high_umol), full_hours=hours),
    )


def mean_shadow(answer: AnswerPage) -> float:
    """Return what a branch takes of the light, averaged over the zones [%]."""
    return sum(light.shadow_percent for light in answer.zones) / len(answer.zones)


def best_of(answers: Sequence[AnswerPage]) -> dict[str, int]:
    """Return the number of the answer that is best in each row; none where all are alike."""
    rows: dict[str, Callable[[AnswerPage], float]] = {
        "price": lambda answer: float("inf") if answer.costs.price is None
        else answer.costs.price,
        "watts": lambda answer: answer.costs.watts or float("inf"),
        "cost": lambda answer: float("inf") if answer.costs.cost_year is None
        else answer.costs.cost_year,
        "total": lambda answer: float("inf") if answer.costs.total is None
        else answer.costs.total,
        "shadow": mean_shadow,
        "lost": lambda answer: answer.light_lost_percent,
    }  # fmt: skip
    best = {}
    for name, key in rows.items():
        values = [round(key(answer), 1) for answer in answers]
        if len(set(values)) > 1:
            best[name] = answers[values.index(min(values))].number
    return best
