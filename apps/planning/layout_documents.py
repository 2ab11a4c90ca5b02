"""The question of a layout plan and how far its search has come, to JSON and back."""

import datetime as dt
import json
from dataclasses import asdict, dataclass

from django.core.exceptions import ValidationError

from apps.photics.ground.measured_optic import MeasuredOptic
from apps.photics.ground.scene import Rock, Tank
from apps.photics.layout.fixes import Fix
from apps.photics.layout.question import Candidate, Choice, Limits, Question, Zone
from apps.photics.layout.score import Layout
from apps.photics.layout.search import Rated, State
from apps.photics.rig.fixture_light import OutputEstimate
from apps.photics.rig.tank_optics import USUAL_LAW, TankLaw

VERSION = 1
USUAL_DAY_HOURS = 9.0


@dataclass(frozen=True)
class Asked:
    """A stored question with what only the pages need of it."""

    question: Question
    # For each candidate: "own:<pk>" or "kind:<key>".
    sources: tuple[str, ...]
    day_hours: float
    price_kwh: float | None
    # The day of the survey the law and measured outputs are from, None without one.
    surveyed_on: dt.date | None = None


def asked_to_json(asked):
    """Return the document of an Asked; the rocks and measures are those of the day it was asked."""
    return {
        "version": VERSION,
        "question": plain(asked.question),
        "sources": list(asked.sources),
        "day_hours": asked.day_hours,
        "price_kwh": asked.price_kwh,
        "surveyed_on": asked.surveyed_on and asked.surveyed_on.isoformat(),
    }


def asked_from_json(data):
    """Return the Asked of a document; raises ValidationError where it is not one."""
    try:
        if data["version"] != VERSION:
            raise ValueError(f"Version {data['version']} is not known here.")
        question = data["question"]
        return Asked(
            Question(
                tank=Tank(**question["tank"]),
                zones=tuple(Zone(**tuples(zone)) for zone in question["zones"]),
                candidates=tuple(candidate_from(c) for c in question["candidates"]),
                limits=Limits(**tuples(question["limits"])),
                rocks=tuple(Rock(**rock) for rock in question["rocks"]),
                # Plans asked before surveys were used know a usual tank.
                law=TankLaw(**tuples(question["law"])) if "law" in question else USUAL_LAW,
            ),
            sources=tuple(data["sources"]),
            day_hours=float(data["day_hours"]),
            price_kwh=data["price_kwh"],
            surveyed_on=day_from(data.get("surveyed_on")),
        )
    except (KeyError, TypeError, ValueError) as problem:
        raise ValidationError(f"This is not the question of a layout: {problem}") from None


def day_from(text):
    return None if text is None else dt.date.fromisoformat(text)


def candidate_from(data):
    told = tuples(data) | {"output": OutputEstimate(**data["output"])}
    # Questions kept before layouts knew measured optics have none.
    if data.get("optic"):
        told["optic"] = MeasuredOptic(tuple(tuple(row) for row in data["optic"]["ratio"]))
    return Candidate(**told)


def plain(record):
    """Return a dataclass as JSON has it: no tuples, so that it compares equal to what is stored."""
    return json.loads(json.dumps(asdict(record)))


def tuples(data):
    """Return a dict with its lists made tuples, two deep: JSON knows only lists."""
    return {key: as_tuple(value) for key, value in data.items()}


def as_tuple(value):
    return tuple(as_tuple(part) for part in value) if isinstance(value, list) else value


def state_to_json(state, *, stopped=False, finished=False):
    """Return the document of a search's State."""
    return {
        "version": VERSION,
        "stopped": stopped,
        "finished": finished,
        **plain(state),
    }


def state_from_json(data):
    """Return the State of a document; a fresh one from {}."""
    if not data:
        return State()
    try:
        return State(
            step=int(data["step"]),
            scored=int(data["scored"]),
            screened=tuple(found_from(result) for result in data["screened"]),
            refined=tuple(found_from(result) for result in data["refined"]),
            fixes=tuple(Fix(**tuples(fix)) for fix in data["fixes"]),
        )
    except (KeyError, TypeError, ValueError) as problem:
        raise ValidationError(f"This is not the answer of a layout: {problem}") from None


def found_from(data):
    layout = data["layout"]
    choice = Choice(**layout["choice"])
    return Rated(Layout(**{**tuples(layout), "choice": choice}), float(data["value"]))
