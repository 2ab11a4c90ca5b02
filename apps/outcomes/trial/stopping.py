"""Stopping a trial, taking that back, and going on after a pause."""

from apps.outcomes.models import Trial


def stop(*, trial: Trial) -> None:
    # Tapped twice it was still stopped the first time.
    if trial.stopped_on is None:
        trial.stopped_on = trial.tank.today()
        trial.save(update_fields=["stopped_on"])


def unstop(*, trial: Trial) -> None:
    trial.stopped_on = None
    trial.save(update_fields=["stopped_on"])


def resume(*, trial: Trial) -> None:
    """Let colour that was lost until today pause the trial no more."""
    trial.resumed_on = trial.tank.today()
    trial.save(update_fields=["resumed_on"])
