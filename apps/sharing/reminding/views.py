"""Which reminders come by e-mail: chosen when signed in, turned off by the mail's own link."""

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.csrf import csrf_exempt

from apps.sharing.reminder_models import KINDS, ReminderMail
from apps.sharing.reminding.digest import keeper_of


class RemindersForm(forms.Form):
    kinds = forms.MultipleChoiceField(
        label="Remind me by e-mail of",
        choices=list(KINDS.items()),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )


@login_required
def reminders(request: HttpRequest) -> HttpResponse:
    """Show and take a keeper's choice."""
    choice = ReminderMail.objects.filter(keeper=request.user).first()
    if request.method != "POST":
        form = RemindersForm(initial={"kinds": choice.kinds if choice else []})
        return render(request, "sharing/reminders.html", {"form": form})
    form = RemindersForm(request.POST)
    if not form.is_valid():
        return render(request, "sharing/reminders.html", {"form": form}, status=422)
    kinds = form.cleaned_data["kinds"]
    ReminderMail.objects.update_or_create(keeper=request.user, defaults={"kinds": kinds})
    messages.success(request, "Saved. One mail a day at most." if kinds else "No more mails.")
    return redirect("reminders")


# A mail program posts here by itself (RFC 8058); the signed address is the proof.
@csrf_exempt
def reminders_off(request: HttpRequest, token: str) -> HttpResponse:
    """Ask whether to end all reminders of a keeper, or end them."""
    keeper = keeper_of(token)
    if keeper is None:
        raise Http404
    is_off = request.method == "POST"
    if is_off:
        ReminderMail.objects.filter(keeper=keeper).update(kinds=[])
    return render(request, "sharing/reminders_off.html", {"is_off": is_off})
