"""A keeper's own fixtures. Others see them only where they hang, by name."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from apps.common.once import once
from apps.common.removal import bring_back, offer_undo
from apps.lighting.channel_forms import channel_rows, typed_channel_rows
from apps.lighting.hanging import correct_hangings, hangings
from apps.lighting.models import Fixture
from apps.lighting.optic_saving import save_fixture
from apps.lighting.rig_forms import FixtureForm
from apps.tanks.access import tank_to_go_back_to
from apps.tanks.deleted import leads_on_when_deleted


@login_required
def fixture_list(request):
    fixtures = Fixture.objects.owned_by(request.user)
    return render(request, "lighting/fixture_list.html", {"fixtures": fixtures})


@login_required
@once()
def fixture_new(request):
    return edit_fixture(request, Fixture(owner=request.user), said="is in your library")


@login_required
def fixture_edit(request, pk):
    fixture = get_object_or_404(Fixture.objects.owned_by(request.user), pk=pk)
    return edit_fixture(request, fixture, said="is changed in your library")


def edit_fixture(request, fixture, *, said):
    """Show or save the form of a fixture that already carries its owner."""
    tank, data = tank_to_go_back_to(request), request.POST if request.method == "POST" else None
    more = data is not None and "more" in data
    if more:
        form = FixtureForm(initial=data.dict(), instance=fixture, unit=request.user.units)
        channels = typed_channel_rows(data)
    else:
        channels = channel_rows(fixture.channels, data=data)
        form = FixtureForm(data, instance=fixture, unit=request.user.units)
        if channels.is_bound and channels.is_valid():
            fixture.channels = channels.channels()
    # Both are asked, so that every wrong cell is marked at once.
    if form.is_bound and all([form.is_valid(), not channels.is_bound or channels.is_valid()]):
        saved = form.save(commit=False)
        save_fixture(fixture=saved)
        many = correct_hangings(saved, request.user) if form.cleaned_data["correct_hung"] else 0
        where = (
            f", and in {many} place{'' if many == 1 else 's'} of your light logs" if many else ""
        )
        messages.success(request, f"{saved.name} {said}{where}.")
        return redirect("light_change_new", tank.pk) if tank else redirect("fixture_list")
    hangs = fixture.pk is not None and hangings(fixture, request.user).exists()
    context = {
        "form": form,
        "channels": channels,
        "tank": tank,
        "hangs": hangs,
        "sent_back": data is not None,
    }
    status = 422 if form.is_bound else 200
    return render(request, "lighting/fixture_form.html", context, status=status)


@login_required
@require_POST
@leads_on_when_deleted("fixture")
def fixture_remove(request, pk):
    fixture = get_object_or_404(Fixture.objects.owned_by(request.user), pk=pk)
    fixture.remove()
    text = f"{fixture.name} is out of your library. Where it hangs, it stays."
    offer_undo(request, text, reverse("fixture_restore", args=[pk]))
    return redirect("fixture_list")


@login_required
@require_POST
@leads_on_when_deleted("fixture")
def fixture_restore(request, pk):
    fixture = get_object_or_404(Fixture, owner=request.user, pk=pk)
    bring_back(request, fixture.restore, f"{fixture.name} is back.")
    return redirect("fixture_list")
