"""The stored form of a layout plan: each key by name, so that no rename of a record changes it.

Versions grow: what a plan of before does not have is read as what it meant then. A key that goes,
or means something else, raises the version, and the form before gets a reader of its own.
"""

import datetime as dt
from dataclasses import dataclass

from django.core.exceptions import ValidationError

from apps.photics.ground.dose import dli_mol
from apps.photics.ground.measured_optic import MeasuredOptic
from apps.photics.layout.advice.spectrum_wish import SpectrumWish
from apps.photics.layout.fixes import Fix
from apps.photics.layout.hanging import HungKind, Layout
from apps.photics.layout.question import Candidate, Limits, Question, Zone
from apps.photics.layout.search import Rated, State
from apps.photics.rig.fixture_light import OutputEstimate
from apps.photics.rig.tank_optics import USUAL_LAW, TankLaw
from apps.planning.documents import (
    Document,
    document,
    each,
    flag,
    maybe,
    number,
    pair,
    text,
    whole,
)
from apps.planning.stored_scene import read_rock, read_tank, rock_document, tank_document
from apps.planning.zone_origin import PARTS, ZoneOrigin

VERSION = 2
MEASURED_HERE = "a survey over this tank"
# Before 2, answers had one main kind and one for fill.
OLDER = 1


@dataclass(frozen=True)
class StoredQuestion:
    """The question of a plan, with what only its pages need."""

    question: Question
    # For each candidate: "own:<pk>" or "kind:<key>".
    sources: tuple[str, ...]
    day_hours: float
    price_kwh: float | None
    # The day of the survey the law and measured outputs are from, None without one.
    surveyed_on: dt.date | None = None
    # For each zone what it was made of; () where plans of before do not know.
    origins: tuple[ZoneOrigin, ...] = ()
    # For each candidate the price of new tubes for one; () where plans of before do not know.
    renewals: tuple[float | None, ...] = ()
    # The colour wished for, None for any.
    wish: SpectrumWish | None = None

    def renewal_of(self, candidate: int) -> float | None:
        """Return the price of new tubes for one of a candidate, None where it is not known."""
        return self.renewals[candidate] if candidate < len(self.renewals) else None

    def dli_of(self, par_umol: float) -> float:
        """Return the daily light of a PAR [umol m-2 s-1] at the plan's hours [mol m-2 d-1]."""
        return float(dli_mol(par_umol, full_hours=self.day_hours))


def write_question(stored: StoredQuestion) -> Document:
    """Return the document of a question; rocks and measures are those of the day it was asked."""
    question = stored.question
    return {
        "version": VERSION,
        "question": {
            "tank": tank_document(question.tank),
            "zones": [zone_document(zone) for zone in question.zones],
            "candidates": [candidate_document(one) for one in question.candidates],
            "limits": limits_document(question.limits),
            "rocks": [rock_document(rock) for rock in question.rocks],
            "law": {
                "means": list(question.law.means),
                "deviations": list(question.law.deviations),
            },
        },
        "sources": list(stored.sources),
        "day_hours": stored.day_hours,
        "price_kwh": stored.price_kwh,
        "surveyed_on": stored.surveyed_on and stored.surveyed_on.isoformat(),
        "origins": [origin_document(origin) for origin in stored.origins],
        "renewals": list(stored.renewals),
        "wish": stored.wish and wish_document(stored.wish),
    }


def read_question(data: Document) -> StoredQuestion:
    """Return the question of a document; raises ValidationError where it is not one."""
    try:
        check_version(data)
        question = document(data["question"])
        return StoredQuestion(
            Question(
                tank=read_tank(question["tank"]),
                zones=each(question["zones"], read_zone),
                candidates=each(question["candidates"], read_candidate),
                limits=read_limits(question["limits"]),
                rocks=each(question["rocks"], read_rock),
                # Plans of before surveys were used know a usual tank.
                law=maybe(question.get("law"), read_law) or USUAL_LAW,
            ),
            sources=each(data["sources"], text),
            day_hours=number(data["day_hours"]),
            price_kwh=maybe(data["price_kwh"], number),
            surveyed_on=maybe(data.get("surveyed_on"), read_day),
            origins=each(data.get("origins", []), read_origin),
            renewals=each(data.get("renewals", []), lambda value: maybe(value, number)),
            wish=maybe(data.get("wish"), read_wish),
        )
    except (KeyError, TypeError, ValueError) as problem:
        raise ValidationError(f"This is not the question of a layout: {problem}") from None


def wish_document(wish: SpectrumWish) -> Document:
    return {"blue": list(wish.blue), "green": list(wish.green), "red": list(wish.red)}


def read_wish(value: object) -> SpectrumWish:
    data = document(value)
    return SpectrumWish(blue=pair(data["blue"]), green=pair(data["green"]), red=pair(data["red"]))


def check_version(data: Document) -> None:
    """Raise ValueError unless a document is of a version that is read here."""
    if data["version"] not in (OLDER, VERSION):
        raise ValueError(f"Version {data['version']} is not known here.")


def read_day(value: object) -> dt.date:
    return dt.date.fromisoformat(text(value))


def zone_document(zone: Zone) -> Document:
    """Return the document of a zone; a saved what-if stores its zones so too."""
    return {
        "name": zone.name,
        "x_cm": list(zone.x_cm),
        "y_cm": list(zone.y_cm),
        "depth_cm": list(zone.depth_cm),
        "low_umol": zone.low_umol,
        "high_umol": zone.high_umol,
        "weight": zone.weight,
        "high_is_soft": zone.high_is_soft,
    }


def read_zone(value: object) -> Zone:
    data = document(value)
    return Zone(
        name=text(data["name"]),
        x_cm=pair(data["x_cm"]),
        y_cm=pair(data["y_cm"]),
        depth_cm=pair(data["depth_cm"]),
        low_umol=number(data["low_umol"]),
        high_umol=number(data["high_umol"]),
        weight=number(data["weight"]),
        # Zones of before had two hard edges.
        high_is_soft=flag(data.get("high_is_soft", False)),
    )


def origin_document(origin: ZoneOrigin) -> Document:
    return {
        "lives": origin.lives,
        "parts": None if origin.parts is None else list(origin.parts),
        "dli_mol": None if origin.dli_mol is None else list(origin.dli_mol),
    }


def read_origin(value: object) -> ZoneOrigin:
    data = document(value)
    parts = maybe(data["parts"], lambda numbers: each(numbers, number))
    if parts is not None and len(parts) != PARTS:
        raise ValueError(f"{parts!r} are no parts of a box.")
    return ZoneOrigin(lives=text(data["lives"]), parts=parts, dli_mol=maybe(data["dli_mol"], pair))


def candidate_document(candidate: Candidate) -> Document:
    optic = candidate.optic
    return {
        "name": candidate.name,
        "kind": candidate.kind,
        "panel_x_cm": candidate.panel_x_cm,
        "panel_y_cm": candidate.panel_y_cm,
        "beams_deg": list(candidate.beams_deg),
        "output": output_document(candidate.output),
        "watts": candidate.watts,
        "price": candidate.price,
        "owned": candidate.owned,
        "optic": None if optic is None else {"ratio": [list(row) for row in optic.ratio]},
        "optic_beam_deg": candidate.optic_beam_deg,
        "emitter": candidate.emitter,
        "kept_at_cm": [list(place) for place in candidate.kept_at_cm],
        "kept_height_cm": candidate.kept_height_cm,
        "turn_deg": candidate.turn_deg,
        "tilt_deg": candidate.tilt_deg,
    }


def read_candidate(value: object) -> Candidate:
    data = document(value)
    return Candidate(
        name=text(data["name"]),
        kind=text(data["kind"]),
        panel_x_cm=number(data["panel_x_cm"]),
        panel_y_cm=number(data["panel_y_cm"]),
        beams_deg=each(data["beams_deg"], number),
        output=read_output(data["output"]),
        watts=maybe(data["watts"], number),
        price=maybe(data["price"], number),
        owned=whole(data["owned"]),
        # Plans of before layouts knew measured optics have none.
        optic=maybe(data.get("optic"), read_optic),
        optic_beam_deg=number(data.get("optic_beam_deg", 0.0)),
        emitter=text(data.get("emitter", "")),
        kept_at_cm=each(data.get("kept_at_cm", []), pair),
        kept_height_cm=number(data.get("kept_height_cm", 0.0)),
        turn_deg=number(data.get("turn_deg", 0.0)),
        tilt_deg=number(data.get("tilt_deg", 0.0)),
    )


def output_document(output: OutputEstimate) -> Document:
    return {
        "ppf_umol_s": output.ppf_umol_s,
        "low_umol_s": output.low_umol_s,
        "high_umol_s": output.high_umol_s,
        "words": output.words,
        "measured": output.measured,
    }


def read_output(value: object) -> OutputEstimate:
    data = document(value)
    return OutputEstimate(
        ppf_umol_s=number(data["ppf_umol_s"]),
        low_umol_s=number(data["low_umol_s"]),
        high_umol_s=number(data["high_umol_s"]),
        words=text(data["words"]),
        # Plans of before say it by their words alone.
        measured=flag(data.get("measured", data["words"] == MEASURED_HERE)),
    )


def read_optic(value: object) -> MeasuredOptic:
    return MeasuredOptic(each(document(value)["ratio"], lambda row: each(row, number)))


def limits_document(limits: Limits) -> Document:
    return {
        "height_cm": list(limits.height_cm),
        "x_cm": list(limits.x_cm),
        "y_cm": list(limits.y_cm),
        "count": limits.count,
        "fill_count": limits.fill_count,
        "budget": limits.budget,
        "watts": limits.watts,
        "canopy": limits.canopy,
    }


def read_limits(value: object) -> Limits:
    data = document(value)
    return Limits(
        height_cm=pair(data["height_cm"]),
        x_cm=pair(data["x_cm"]),
        y_cm=pair(data["y_cm"]),
        count=whole(data["count"]),
        fill_count=whole(data["fill_count"]),
        budget=maybe(data["budget"], number),
        watts=maybe(data["watts"], number),
        canopy=flag(data["canopy"]),
    )


def read_law(value: object) -> TankLaw:
    data = document(value)
    k, pane, bottom = each(data["means"], number)
    of_k, of_pane, of_bottom = each(data["deviations"], number)
    return TankLaw((k, pane, bottom), (of_k, of_pane, of_bottom))


def write_state(state: State, *, stopped: bool = False, finished: bool = False) -> Document:
    """Return the document of how far a search has come."""
    return {
        "version": VERSION,
        "stopped": stopped,
        "finished": finished,
        "step": state.step,
        "scored": state.scored,
        "screened": [rated_document(rated) for rated in state.screened],
        "refined": [rated_document(rated) for rated in state.refined],
        "fixes": [
            {"name": fix.name, "zone_shares": list(fix.zone_shares), "value": fix.value}
            for fix in state.fixes
        ],
    }


def read_state(data: Document) -> State:
    """Return the State of a document, a fresh one from {}; raises ValidationError for others."""
    if not data:
        return State()
    try:
        check_version(data)
        read = read_rated_1 if data["version"] == OLDER else read_rated
        return State(
            step=whole(data["step"]),
            scored=whole(data["scored"]),
            screened=each(data["screened"], read),
            refined=each(data["refined"], read),
            fixes=each(data["fixes"], read_fix),
        )
    except (KeyError, TypeError, ValueError) as problem:
        raise ValidationError(f"This is not the answer of a layout: {problem}") from None


def rated_document(rated: Rated) -> Document:
    return {
        "layout": {"kinds": [kind_document(kind) for kind in rated.layout.hung]},
        "value": rated.value,
    }


def kind_document(kind: HungKind) -> Document:
    return {
        "candidate": kind.candidate,
        "beam_deg": kind.beam_deg,
        "places_cm": [list(place) for place in kind.places_cm],
        "height_cm": kind.height_cm,
        "level": kind.level,
    }


def read_rated(value: object) -> Rated:
    data = document(value)
    kinds = each(document(data["layout"])["kinds"], read_kind)
    return Rated(Layout(kinds), number(data["value"]))


def read_kind(value: object) -> HungKind:
    data = document(value)
    return HungKind(
        candidate=whole(data["candidate"]),
        beam_deg=number(data["beam_deg"]),
        places_cm=each(data["places_cm"], pair),
        height_cm=number(data["height_cm"]),
        level=number(data["level"]),
    )


def read_rated_1(value: object) -> Rated:
    """Return the Rated of version 1, which knew a main kind and one for fill."""
    data = document(value)
    layout = document(data["layout"])
    choice = document(layout["choice"])
    main = HungKind(
        candidate=whole(choice["main"]),
        beam_deg=number(choice["beam_deg"]),
        places_cm=each(layout["places_cm"], pair),
        height_cm=number(layout["height_cm"]),
        level=number(layout["level"]),
    )
    if choice["fill"] is None:
        return Rated(Layout((main,)), number(data["value"]))
    fill = HungKind(
        candidate=whole(choice["fill"]),
        beam_deg=number(choice["fill_beam_deg"]),
        places_cm=each(layout["fill_places_cm"], pair),
        height_cm=number(layout["fill_height_cm"]),
        level=number(layout["fill_level"]),
    )
    return Rated(Layout((main, fill)), number(data["value"]))


def read_fix(value: object) -> Fix:
    data = document(value)
    return Fix(text(data["name"]), each(data["zone_shares"], number), number(data["value"]))
