"""All health notes of a tank, searched and read by pages."""

from django import forms
from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db.models import Q
from django.shortcuts import render
from django.views.decorators.http import require_GET

from apps.accounts.models import User
from apps.corals.models import HealthNote
from apps.corals.notes.sign_words import sign_called
from apps.tanks.access import may_write, readable_tank
from apps.tanks.kept_pages.pages import kept_page

NOTES_A_PAGE = 15


class NoteSearchForm(forms.Form):
    """What to look for among the notes of a tank; a blank field asks for nothing."""

    coral = forms.ModelChoiceField(queryset=None, required=False, empty_label="all corals")
    sign = forms.ChoiceField(
        label="Seen", choices=[("", "anything"), *HealthNote.Seen.choices], required=False
    )
    words = forms.CharField(label="Words", max_length=100, required=False)
    who = forms.ModelChoiceField(
        label="Written by", queryset=None, required=False, empty_label="anybody"
    )
    since = forms.DateField(
        label="From",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    until = forms.DateField(
        label="To",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def __init__(self, *args, tank, **kwargs):
        super().__init__(*args, **kwargs)
        notes = notes_of(tank)
        self.fields["coral"].queryset = tank.corals.present()
        writers = notes.order_by().values("created_by")
        self.fields["who"].queryset = User.objects.filter(pk__in=writers).order_by("pk")
        self.fields["who"].label_from_instance = lambda user: user.shown_name()

    def matching(self, notes):
        """Return those of `notes` that fit all sound fields."""
        wanted = self.cleaned_data
        if wanted.get("coral"):
            notes = notes.filter(coral=wanted["coral"])
        if sign := wanted.get("sign"):
            notes = notes.showing(sign)
        if wanted.get("words"):
            notes = with_words(notes, wanted["words"])
        if wanted.get("who"):
            notes = notes.filter(created_by=wanted["who"])
        if wanted.get("since"):
            notes = notes.filter(noted_on__gte=wanted["since"])
        if wanted.get("until"):
            notes = notes.filter(noted_on__lte=wanted["until"])
        return notes


def with_words(notes, words):
    """Return the notes with some words in them, of eyes so named, or of the sign so called."""
    either = Q(text__icontains=words) | Q(noted_by__icontains=words)
    if sign := sign_called(words):
        either |= Q(pk__in=notes.showing(sign).values("pk"))
    return notes.filter(either)


def notes_of(tank):
    """Return the notes of a tank's present corals, newest first."""
    return HealthNote.objects.present().filter(coral__in=tank.corals.present())


@login_required
@kept_page(readable_tank)
@require_GET
def note_list(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    form = NoteSearchForm(request.GET, tank=tank)
    form.is_valid()
    notes = form.matching(notes_of(tank)).select_related("coral", "created_by")
    query = request.GET.copy()
    query.pop("page", None)
    pages = Paginator(notes.prefetch_related("photos"), NOTES_A_PAGE)
    context = {
        "tank": tank,
        "form": form,
        "page": pages.get_page(request.GET.get("page")),
        "query": query.urlencode(),
        "may_write": may_write(request.user, tank),
    }
    return render(
        request, "corals/notes/note_list.html", context, status=422 if form.errors else 200
    )
