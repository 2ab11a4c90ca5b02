"""What the visits of one tank's corals say of light, for one question, from columns alone."""

from dataclasses import dataclass

import numpy as np

from apps.photics.causes.association import Association, light_association
from apps.photics.causes.counts_and_ranks import RankCorrelation, rank_correlation
from apps.photics.causes.exposure import coral_exposure
from apps.photics.causes.response_curves import DoseResponse, dose_response
from apps.photics.ground.arrays import FloatArray, IntArray, LabelArray


@dataclass(frozen=True)
class Visits:
    """Notes of one question as columns (n,): one row a coral and day with known light."""

    coral: IntArray  # keys
    day: FloatArray  # [d]
    light: FloatArray  # daily light [mol m-2 d-1], or peak PAR [umol m-2 s-1] where `by_par`
    event: FloatArray  # 0/1
    severity: FloatArray  # of the event [grades]: 1 to 3, of bleaching 4 to 6, else 0
    water_event: FloatArray  # 0/1: 1 where a water event could still show
    group: LabelArray  # soft, lps, sps or other
    genus: LabelArray  # as the keeper wrote it, lower case; may be empty
    by_par: bool
    without_light: int
    arrived: FloatArray | None = None  # day each visit's coral came [d]
    moved: FloatArray | None = None  # day it was last moved before the visit [d], NaN for never
    keeper: LabelArray | None = None  # who looked
    water: FloatArray | None = None  # (n, m) values of the water in any units, NaN where not known


@dataclass(frozen=True)
class VisitsWeighed:
    """What visits say of one question."""

    dose_log2: FloatArray  # (n,) each visit's, as `dose_in_question` gives it
    association: Association
    response: DoseResponse | None = None  # a curve through the events
    stronger: RankCorrelation | None = None  # of the events' strength with their change of light


def weigh_visits(visits: Visits, question: str, *, seed: int) -> VisitsWeighed:
    """Return the VisitsWeighed of one question, "rise" or "fall" of the light."""
    if not len(visits.day):
        # The statistics want a row; one without an event says "nothing noted" in their words.
        nothing = light_association([0], [0], [0.0], [1.0], [0.0], seed=seed, direction=question)
        return VisitsWeighed(np.zeros(0), nothing)
    association = light_association(
        visits.coral,
        np.zeros(len(visits.day), int),
        visits.day,
        visits.light,
        visits.event,
        rivals=visits.water_event,
        arrived=visits.arrived,
        moved=visits.moved,
        keeper=visits.keeper,
        water=visits.water,
        seed=seed,
        direction=question,
    )
    dose = dose_in_question(visits, question)
    response = dose_response(dose, visits.event, visits.group)
    return VisitsWeighed(dose, association, response, with_strength(visits, dose))


def with_strength(visits: Visits, dose_log2: FloatArray) -> RankCorrelation | None:
    """Return how the events' strength goes with their change of light; None where too few.

    `dose_log2` (n,) as `dose_in_question` gives it [log2].
    """
    seen = visits.event > 0
    try:
        return rank_correlation(dose_log2[seen], visits.severity[seen])
    except ValueError:
        return None


def dose_in_question(visits: Visits, question: str) -> FloatArray:
    """Return each visit's light against what its coral was used to, (n,) [log2].

    Above zero is more light where the question is a "rise", less light where it is a "fall".
    """
    ratio = coral_exposure(visits.coral, visits.day, visits.light).log2_ratio
    return -ratio if question == "fall" else ratio
