"""Trials: begin one, see where it stands, go on after a pause, stop it."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from apps.common.idempotency import once
from apps.common.reading_once import reading_once
from apps.common.removal import offer_undo
from apps.outcomes.association.next_evidence import STEP
from apps.outcomes.models import CORALS_COMPARED, NOTE_EVERY_DAYS, Trial
from apps.outcomes.trial.beginning import begin_trial
from apps.outcomes.trial.forms import TrialForm, corals_to_try
from apps.outcomes.trial.status import trial_status
from apps.outcomes.trial.stopping import resume, stop, unstop
from apps.photics.causes.start_trial import SETTLE_DAYS
from apps.tanks.access import may_write, readable_tank, require_write, writable_tank
from apps.tanks.deleted import leads_on_when_deleted


def readable_trial(user, pk):
    """Return a present trial with its tank and draws, or raise Http404."""
    trials = Trial.objects.visible_to(user).select_related("tank")
    return get_object_or_404(trials.prefetch_related("draws__coral"), pk=pk)


def writable_trial(user, pk):
    trial = readable_trial(user, pk)
    require_write(user, trial.tank)
    return trial


@login_required
@reading_once()
def trial_list(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    trials = tank.trials.present().prefetch_related("draws__coral")
    context = {
        "tank": tank,
        "statuses": [trial_status(trial) for trial in trials],
        "may_write": may_write(request.user, tank),
        "can_compare": can_compare(tank),
    }
    return render(request, "outcomes/trial/trial_list.html", context)


def can_compare(tank):
    """Return whether a tank has corals enough for a trial to compare."""
    return corals_to_try(tank).count() >= CORALS_COMPARED


@login_required
@once()
def trial_new(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    trial = Trial(tank=tank, created_by=request.user, began_on=tank.today())
    question = request.GET.get("question", "")
    initial = {"corals": request.GET.getlist("coral")}
    if question in Trial.Question:
        direction = "lighter" if question == Trial.Question.LESS else "darker"
        initial |= {"question": question, "factor": STEP[direction]}
    form = TrialForm(request.POST or None, instance=trial, initial=initial)
    if request.method == "POST" and form.is_valid():
        saved = begin_trial(trial=form.save(commit=False), corals=form.cleaned_data["corals"])
        offer_undo(request, "The days are drawn.", reverse("trial_remove", args=[saved.pk]))
        return redirect("trial_detail", saved.pk)
    status = 422 if request.method == "POST" else 200
    context = {"tank": tank, "form": form, "can_compare": can_compare(tank)}
    return render(request, "outcomes/trial/trial_form.html", context, status=status)


@login_required
def trial_detail(request, pk):
    trial = readable_trial(request.user, pk)
    context = {
        "tank": trial.tank,
        "trial": trial,
        "status": trial_status(trial),
        "today": trial.tank.today(),
        "may_write": may_write(request.user, trial.tank),
        "rules": {"note_every_days": NOTE_EVERY_DAYS, "settle_days": SETTLE_DAYS},
    }
    return render(request, "outcomes/trial/trial_detail.html", context)


@login_required
@require_POST
def trial_resume(request, pk):
    trial = writable_trial(request.user, pk)
    resume(trial=trial)
    messages.success(request, "The trial goes on. Watch the corals closely.")
    return redirect("trial_detail", pk)


@login_required
@require_POST
def trial_stop(request, pk):
    trial = writable_trial(request.user, pk)
    stop(trial=trial)
    offer_undo(request, "The trial is stopped.", reverse("trial_unstop", args=[pk]))
    return redirect("trial_detail", pk)


@login_required
@require_POST
@leads_on_when_deleted("trial")
def trial_unstop(request, pk):
    trial = writable_trial(request.user, pk)
    unstop(trial=trial)
    messages.success(request, "The trial goes on.")
    return redirect("trial_detail", pk)
