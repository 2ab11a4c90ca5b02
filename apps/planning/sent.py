"""What changed in a layout plan since the one that was sent."""

import datetime as dt
from collections.abc import Callable, Iterator

from apps.photics.layout.question import Question
from apps.planning.documents import document, text
from apps.planning.models import Plan
from apps.planning.stored_layout import StoredQuestion, read_question

SENT_VERSION = 1
# A length [cm] as the reader's unit tells it, with the unit.
LengthText = Callable[[float], str]


def mark_sent(*, plan: Plan, recommended: str, now: dt.datetime) -> Plan:
    """Remember a plan as it is now; `recommended` is its answer in words."""
    plan.sent_at = now
    plan.sent = {"version": SENT_VERSION, "question": plan.asked, "recommended": recommended}
    plan.full_clean()
    # Not changed by being sent: the day it last changed stays.
    Plan.objects.filter(pk=plan.pk).update(sent_at=plan.sent_at, sent=plan.sent)
    return plan


def changed_since_sent(plan: Plan, *, recommended: str, length: LengthText) -> list[str] | None:
    """Return what is otherwise than in the plan that was sent, None where none was."""
    if not plan.sent:
        return None
    before, after = read_question(document(plan.sent["question"])), read_question(plan.asked)
    changes = list(differences(before, after, length))
    earlier = text(plan.sent["recommended"])
    if recommended and earlier != recommended:
        changes.append(f"recommended: {earlier or 'nothing'} → {recommended}")
    return changes


def differences(before: StoredQuestion, after: StoredQuestion, length: LengthText) -> Iterator[str]:
    """Yield one line for each thing that differs between two questions."""
    yield from tank_differences(before.question, after.question, length)
    yield from named_differences(
        "zone",
        {zone.name: zone for zone in before.question.zones},
        {zone.name: zone for zone in after.question.zones},
    )
    yield from named_differences(
        "fixture",
        {one.name: one for one in before.question.candidates},
        {one.name: one for one in after.question.candidates},
    )
    if before.question.limits != after.question.limits:
        yield "what hanging, money and power allow"
    if before.day_hours != after.day_hours:
        yield f"full light a day: {before.day_hours:g} → {after.day_hours:g}\u00a0h"
    if before.price_kwh != after.price_kwh:
        yield "the price of power"
    if before.wish != after.wish:
        yield "the colour wished for"


def tank_differences(before: Question, after: Question, length: LengthText) -> Iterator[str]:
    """Yield the measures of the tank that differ, and whether anything else of it does."""
    tanks = (before.tank, after.tank)
    for words, name in (("length", "length_cm"), ("width", "width_cm"), ("depth", "depth_cm")):
        old, new = (getattr(tank, name) for tank in tanks)
        if old != new:
            yield f"{words}: {length(old)} → {length(new)}"
    plain = [(tank.shape, tank.back_pane, tank.bottom, tank.cover_transmission) for tank in tanks]
    if plain[0] != plain[1] or before.rocks != after.rocks:
        yield "the shape, panes or rock of the tank"


def named_differences(
    noun: str, before: dict[str, object], after: dict[str, object]
) -> Iterator[str]:
    """Yield what came, went or is otherwise among things that have names."""
    for name in [*before, *(name for name in after if name not in before)]:
        if name not in after:
            yield f"{noun} “{name}” is gone"
        elif name not in before:
            yield f"{noun} “{name}” is new"
        elif before[name] != after[name]:
            yield f"{noun} “{name}” is changed"
