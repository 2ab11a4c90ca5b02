"""Which reminders come, by e-mail and in which browsers; turned off by the mail's own link, too."""

from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_POST

from apps.sharing.models import PushBrowser
from apps.sharing.push_models import BROWSERS_MOST
from apps.sharing.reminder_models import KINDS, ReminderMail
from apps.sharing.reminding.browsers import TooManyBrowsers, add_browser
from apps.sharing.reminding.digest import keeper_of, sends_mail
from apps.sharing.reminding.pushing import browsers_of, site_key

UNREACHABLE = "Saved, but reminders can’t reach you yet: {}."
WAYS = {
    (True, True): "tick “By e-mail” or add a browser",
    (False, True): "add a browser",
    (False, False): "this site sends no mail",
}


class RemindersForm(forms.Form):
    kinds = forms.MultipleChoiceField(
        label="Remind me of",
        choices=list(KINDS.items()),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    by_mail = forms.BooleanField(label="By e-mail", required=False)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        if not (settings.PUSH_KEY and sends_mail()):
            # There is one way at most.
            del self.fields["by_mail"]

    @property
    def chosen(self) -> dict[str, object]:
        """What a keeper chose; where no mail goes out, what they said of mail before stays."""
        only_mail = {"by_mail": True} if sends_mail() and not settings.PUSH_KEY else {}
        return self.cleaned_data | only_mail


@login_required
def reminders(request: HttpRequest) -> HttpResponse:
    """Show and take a keeper's choice."""
    if request.method != "POST":
        return reminders_page(request, RemindersForm(initial=as_chosen(request)))
    form = RemindersForm(request.POST)
    if not form.is_valid():
        return reminders_page(request, form, status=422)
    chosen, _ = ReminderMail.objects.update_or_create(keeper=request.user, defaults=form.chosen)
    if not chosen.kinds:
        messages.success(request, "No more reminders.")
    elif (chosen.by_mail and sends_mail()) or browsers_of(request.user):
        messages.success(request, "Saved. You get reminders once a day at most.")
    else:
        way = WAYS[sends_mail(), bool(settings.PUSH_KEY)]
        messages.warning(request, UNREACHABLE.format(way))
    return redirect("reminders")


def reminders_page(request: HttpRequest, form: RemindersForm, status: int = 200) -> HttpResponse:
    context = {
        "form": form,
        "site_key": site_key(),
        "sends_mail": sends_mail(),
        "browsers": request.user.push_browsers.order_by("pk"),
    }
    return render(request, "sharing/reminders.html", context, status=status)


@login_required
@require_POST
def push_browser_add(request: HttpRequest) -> HttpResponse:
    """Keep the browser that asks, for reminders."""
    if not settings.PUSH_KEY:
        raise Http404
    try:
        browser = add_browser(
            keeper=request.user,
            endpoint=request.POST.get("endpoint", ""),
            key=request.POST.get("key", ""),
            secret=request.POST.get("secret", ""),
            agent=request.headers.get("User-Agent", ""),
        )
    except (ValidationError, TooManyBrowsers) as problem:
        too_many = f"You can have at most {BROWSERS_MOST} browsers. Delete one first."
        refused = "This browser’s push service can’t be used."
        messages.error(request, too_many if isinstance(problem, TooManyBrowsers) else refused)
        return reminders_page(request, RemindersForm(initial=as_chosen(request)), status=422)
    messages.success(request, f"Reminders will appear in {browser}.")
    return redirect("reminders")


def as_chosen(request: HttpRequest) -> dict[str, object]:
    """Return what a keeper chose, for the form."""
    choice = ReminderMail.objects.filter(keeper=request.user).first() or ReminderMail()
    return {"kinds": choice.kinds, "by_mail": choice.by_mail}


@login_required
@require_POST
def push_browser_remove(request: HttpRequest, browser_pk: int) -> HttpResponse:
    """Send a browser no more reminders."""
    browser = get_object_or_404(PushBrowser, pk=browser_pk, keeper=request.user)
    browser.delete()
    messages.success(request, f"No more reminders in {browser}.")
    return redirect("reminders")


# A mail program posts here by itself (RFC 8058); the signed address is the proof.
@csrf_exempt
def reminders_off(request: HttpRequest, token: str) -> HttpResponse:
    """Ask whether to end all reminder mails of a keeper, or end them."""
    keeper = keeper_of(token)
    if keeper is None:
        raise Http404
    is_off = request.method == "POST"
    if is_off:
        choice = ReminderMail.objects.filter(keeper=keeper)
        # Browsers go on, where there are any.
        choice.update(**({"by_mail": False} if keeper.push_browsers.exists() else {"kinds": []}))
    return render(request, "sharing/reminders_off.html", {"is_off": is_off})
