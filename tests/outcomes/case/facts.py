"""A case as it is most often, to change one fact of at a time."""

import datetime as dt
from dataclasses import replace

from apps.outcomes.case.case_facts import CaseFacts, CaseLight, Logged, Others, Shift, Sign

TODAY = dt.date(2026, 6, 30)


def ago(days):
    return TODAY - dt.timedelta(days=days)


FELL = Shift(0.5, 0.4, 0.6, "moved", ago(58))
ROSE = Shift(1.6, 1.4, 1.8, "moved", ago(58))
LOGGED = Logged(ago(20), "alkalinity 11 dKH")
HEAT = Logged(ago(19), "temperature 29.4 °C")

# It browned twice after it was moved to a dimmer spot; one other of its kind was noted.
BROWNED = CaseFacts(
    sign=Sign.DARKER,
    seen="browning",
    today=TODAY,
    first_on=ago(15),
    last_on=ago(6),
    came_on=ago(300),
    notes=2,
    light=CaseLight(place="below", place_sure=True, place_now="below", shift=FELL),
    others=Others(kin_well=1, kin_same=0, turned=1, living=8),
)


def with_light(facts, **changes):
    return replace(facts, light=replace(facts.light, **changes))


def with_others(facts, **changes):
    return replace(facts, others=replace(facts.others, **changes))
