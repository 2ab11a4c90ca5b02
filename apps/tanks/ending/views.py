"""Ending a tank, and taking that back."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from apps.common.idempotency import once
from apps.tanks.access import owned_tank
from apps.tanks.ending.ending import end_tank, reopen_tank, successors_of
from apps.tanks.models import Tank


class EndForm(forms.Form):
    """When a tank ended, and where what lives in it went."""

    ended_on = forms.DateField(
        label="Ended on", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    successor = forms.ModelChoiceField(
        Tank.objects.none(),
        label="Its living corals move to",
        empty_label="no other tank",
        required=False,
        help_text="They begin there on that day, without a spot. Their history stays here.",
    )

    def __init__(self, *args, tank, user, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["successor"].queryset = successors_of(tank, user)


@login_required
@require_http_methods(["GET", "POST"])
@once()
def tank_end(request, tank_pk):
    tank = owned_tank(request.user, tank_pk)
    data = request.POST or None
    form = EndForm(data, tank=tank, user=request.user, initial={"ended_on": tank.today()})
    if request.method == "POST" and form.is_valid():
        day, successor = form.cleaned_data["ended_on"], form.cleaned_data["successor"]
        try:
            moved = end_tank(tank=tank, on=day, successor=successor)
        except ValidationError as problem:
            form.add_error(None, problem)
        else:
            more = f" {', '.join(moved)}." if moved else ""
            messages.success(request, f"{tank.name} has ended.{more}")
            return redirect("tank_detail", tank.pk)
    # What was typed is not stored: the page shows the tank as it is.
    context = {"tank": owned_tank(request.user, tank_pk), "form": form}
    return render(request, "tanks/tank_end.html", context, status=422 if form.errors else 200)


@login_required
@require_POST
def tank_reopen(request, tank_pk):
    tank = owned_tank(request.user, tank_pk)
    reopen_tank(tank=tank)
    messages.success(request, f"{tank.name} is running again.")
    return redirect("tank_detail", tank.pk)
