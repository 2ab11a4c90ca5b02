"""The usual light of corals by group: one table of daily light, and the PAR it is in a tank's day.

Every usual band shown anywhere is made here. Common practice, no published source: the trade's PAR
50-150, 75-150 and 200-350 at nine full hours a day, told as the daily light they are.
"""

from apps.photics.ground.dose import MOL_PER_UMOL_HOUR, dli_mol

SOFT, LPS, SPS, OTHER = "soft", "lps", "sps", "other"
# Daily light that corals of a group are kept in, from and to [mol m-2 d-1]: from memory, typical of
# the trade.
USUAL_DLI_MOL = {
    SOFT: (1.6, 4.9),
    LPS: (2.4, 4.9),
    SPS: (6.5, 11.3),
    OTHER: (1.6, 6.5),
}
# Hours of full light a day where nobody stated them [h]: from memory, typical of the trade.
USUAL_DAY_HOURS = 9.0
# A shorter day counts as so long [h]: chosen, because its band would lie beyond any PAR that corals
# are given.
SHORTEST_DAY_HOURS = 2.0
# The ends of a usual band are told to so much [umol m-2 s-1]: chosen, because they are known no
# better.
ROUNDED_TO_UMOL = 5.0


def band_hours(full_hours: float | None) -> float:
    """Return the hours a usual band rests on [h]: the day's, USUAL_DAY_HOURS where None or 0."""
    return max(full_hours or USUAL_DAY_HOURS, SHORTEST_DAY_HOURS)


def band_umol(group: str, *, full_hours: float | None) -> tuple[float, float]:
    """Return the usual PAR of a group of corals under a day's full hours [umol m-2 s-1].

    `group` one of USUAL_DLI_MOL; `full_hours` 0 to 24 [h], None where nobody stated them. By the
    definition of the daily light integral (`ground.dose`), to the nearest ROUNDED_TO_UMOL.

    >>> band_umol("sps", full_hours=9.0)
    (200.0, 350.0)
    >>> band_umol("sps", full_hours=10.0)
    (180.0, 315.0)
    """
    per_umol = band_hours(full_hours) * MOL_PER_UMOL_HOUR
    low, high = (
        ROUNDED_TO_UMOL * round(mol / per_umol / ROUNDED_TO_UMOL) for mol in USUAL_DLI_MOL[group]
    )
    return low, high


def dli_band_umol(ends_mol: tuple[float, float], *, full_hours: float) -> tuple[float, float]:
    """Return the PAR of any band of daily light [mol m-2 d-1] under a day's hours [umol m-2 s-1].

    The band of a group in USUAL_DLI_MOL is the same as in `band_umol`; any other is exact. Hours
    from 0.1 [h].

    >>> dli_band_umol((6.48, 9.72), full_hours=9.0)
    (200.0, 300.0)
    """
    group = next((key for key, usual in USUAL_DLI_MOL.items() if usual == tuple(ends_mol)), None)
    if group is not None:
        return band_umol(group, full_hours=full_hours)
    low, high = (mol / (max(full_hours, 0.1) * MOL_PER_UMOL_HOUR) for mol in ends_mol)
    return low, high


def band_dli_mol(ends_umol: tuple[float, float], *, full_hours: float) -> tuple[float, float]:
    """Return the daily light of any PAR band [umol m-2 s-1] in a day's hours [mol m-2 d-1].

    A usual band of these hours (above 0, to 24 [h]) is told as it stands in USUAL_DLI_MOL, before
    its PAR was rounded; any other is exact.

    >>> band_dli_mol((180.0, 315.0), full_hours=10.0)
    (6.5, 11.3)
    """
    for group, usual in USUAL_DLI_MOL.items():
        if band_umol(group, full_hours=full_hours) == tuple(ends_umol):
            return usual
    low, high = (dli_mol(end, full_hours=full_hours) for end in ends_umol)
    return low, high
