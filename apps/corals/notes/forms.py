"""The form of a health note."""

from django import forms
from django.conf import settings
from django.utils.html import format_html

from apps.common.model_forms import WholeModelForm
from apps.common.numbers import shorten
from apps.corals.forms import day_input
from apps.corals.models import NOTE_PHOTOS_MAX, TOO_MANY_PHOTOS, HealthNote, Photo
from apps.corals.notes.quota import photo_quota_problem
from apps.corals.notes.sign_words import sign_called, words_beside
from apps.corals.photo_cleaning import FORMAT_WORDS, UnusablePhoto, clean_photo
from apps.corals.pictures.decoder_lock import DecoderBusy

# What is rarely said lies in a fold of the form.
FOLDED = ("also_seen", "called", "where", "noted_time", "noted_by")
BUSY = "Other photos are being worked on. Choose this one again and save once more."


class PhotosInput(forms.FileInput):
    """Takes several files, and lets a phone offer its camera beside its gallery."""

    allow_multiple_selected = True

    def __init__(self):
        super().__init__(attrs={"accept": "image/jpeg,image/png,image/webp,image/heic,image/heif"})


class PhotosField(forms.FileField):
    """Several photos at once; cleans to CleanPhotos in the order they were chosen."""

    widget = PhotosInput

    def clean(self, data, initial=None):
        sent = [super(PhotosField, self).clean(file) for file in data or ()]
        if len(sent) > NOTE_PHOTOS_MAX:
            raise forms.ValidationError(TOO_MANY_PHOTOS)
        return tuple(self.cleaned(file, one_of_many=len(sent) > 1) for file in sent)

    def cleaned(self, file, *, one_of_many):
        try:
            return clean_photo(file, bytes_max=settings.PHOTO_BYTES_MAX)
        except DecoderBusy:
            raise forms.ValidationError(BUSY) from None
        except UnusablePhoto as problem:
            which = f"{shorten(file.name)}: " if one_of_many else ""
            raise forms.ValidationError(f"{which}{problem}") from None


def sign_choices():
    """Return (sign, its name with what keepers also call it) of every sign."""
    return [
        (
            sign.value,
            format_html("<span>{}</span> <small>{}</small>", sign.label, words_beside(sign)),
        )
        for sign in HealthNote.Seen
    ]


class NoteForm(WholeModelForm, forms.ModelForm):
    """A health note whose instance already carries its coral."""

    condition = forms.TypedChoiceField(
        label="How is it as a whole?",
        coerce=int,
        empty_value=None,
        choices=[*HealthNote.Condition.choices, ("", "not said")],
        widget=forms.RadioSelect,
        required=False,
    )
    seen = forms.ChoiceField(
        label="What is seen", choices=sign_choices, widget=forms.RadioSelect, required=False
    )
    called = forms.CharField(
        label="Or type what you call it",
        max_length=60,
        required=False,
        widget=forms.TextInput(attrs={"list": "sign-words", "autocomplete": "off"}),
    )
    also_seen = forms.MultipleChoiceField(
        label="Also seen",
        choices=[c for c in HealthNote.Seen.choices if c[0] != HealthNote.Seen.WELL],
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    strength = forms.TypedChoiceField(
        label="How strong",
        coerce=int,
        choices=HealthNote.Strength.choices,
        widget=forms.RadioSelect,
        initial=HealthNote.Strength.CLEAR,
    )
    photo = PhotosField(
        label="Photos",
        required=False,
        help_text=f"{FORMAT_WORDS}. Place and camera data are taken out.",
    )
    # The version that was on the page, so that what was saved elsewhere since is not lost; a draft
    # that is put back brings along the one it was typed over.
    knows = forms.IntegerField(
        required=False, min_value=0, widget=forms.HiddenInput(attrs={"data-keep-hidden": ""})
    )
    photos_gone = forms.ModelMultipleChoiceField(
        label="Delete for good", queryset=None, required=False, widget=forms.CheckboxSelectMultiple
    )

    class Meta:
        model = HealthNote
        fields = [
            "condition", "seen", "also_seen", "strength", "where", "noted_on", "noted_time",
            "noted_by", "text",
        ]  # fmt: skip
        labels = {
            "noted_on": "When", "noted_time": "At", "noted_by": "Seen by",
            "where": "Where on the coral", "text": "In your words",
        }  # fmt: skip
        help_texts = {
            "noted_by": "Blank: you. Two people may see one coral differently, so it is said.",
        }
        widgets = {
            "noted_on": day_input(),
            "noted_time": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
            "noted_by": forms.TextInput(attrs={"autocomplete": "off"}),
            "text": forms.Textarea(attrs={"rows": 2}),
        }

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        kept = self.instance.photos.all() if self.instance.pk else Photo.objects.none()
        self.fields["photos_gone"].queryset = kept
        self.fields["where"].choices = [("", "not said"), *HealthNote.Where.choices]
        self.fields["knows"].initial = self.instance.version

    @property
    def says_more(self):
        """Whether what is folded holds something to see: said, or wrong."""
        usual = self.instance.noted_on if self.instance.pk else self.instance.coral.tank.today()
        is_of_another_day = str(self["noted_on"].value() or "") != usual.isoformat()
        return bool(is_of_another_day or self["noted_on"].errors) or any(
            self[name].value() or self[name].errors for name in FOLDED
        )

    def clean(self):
        cleaned = super().clean()
        if not cleaned.get("seen") and "seen" not in self.errors:
            self.take_called(cleaned)
        kept = self.instance.photos.count() if self.instance.pk else 0
        gone = len(cleaned.get("photos_gone") or ())
        if kept - gone + len(cleaned.get("photo") or ()) > NOTE_PHOTOS_MAX:
            self.add_error("photo", TOO_MANY_PHOTOS)
        more = len(cleaned.get("photo") or ()) - gone
        # One who only changes words is asked nothing, however many there are.
        if more > 0 and (problem := photo_quota_problem(self.instance.coral.tank, more)):
            self.add_error("photo", problem)
        return cleaned

    def take_called(self, cleaned):
        """Take the sign by the word that was typed, where none was chosen."""
        word = cleaned.get("called", "")
        sign = sign_called(word)
        if sign:
            cleaned["seen"] = sign
        elif word:
            self.add_error("called", f"No sign is called “{word}”. Choose the nearest one above.")
        elif "called" not in self.errors:
            self.add_error("seen", "Choose what is seen.")

    def full_clean(self):
        super().full_clean()
        if self._errors and self.files.get("photo") and "photo" not in self._errors:
            # A page can't put a chosen file back, so it must not look as if it had.
            self.add_error(
                "photo", "Choose photos again: the browser does not keep them when a page returns."
            )
