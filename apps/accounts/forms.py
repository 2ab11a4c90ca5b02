"""Sign-up and the keeper's own settings."""

from allauth.account.forms import SignupForm as AllauthSignupForm
from django import forms

from apps.accounts.models import User, validate_time_zone
from apps.common.units import CM, UNIT_CHOICES
from apps.common.validation import WholeModelForm


class SignupForm(AllauthSignupForm):
    """E-mail, password, and the two things that make every later page right."""

    display_name = forms.CharField(
        label="Name others see", max_length=60, required=False, help_text="You can leave this out."
    )
    units = forms.ChoiceField(label="Lengths in", choices=UNIT_CHOICES, initial=CM)
    # Filled by the browser; a keeper can change it in settings.
    time_zone = forms.CharField(
        required=False, widget=forms.HiddenInput(attrs={"data-time-zone": ""})
    )

    def clean_time_zone(self):
        name = self.cleaned_data["time_zone"]
        try:
            validate_time_zone(name)
        except forms.ValidationError:
            # The keeper did not type it, so a browser's odd answer is no error of theirs.
            return "UTC"
        return name

    def save(self, request):
        user = super().save(request)
        for name in ("display_name", "units", "time_zone"):
            setattr(user, name, self.cleaned_data[name])
        user.save(update_fields=["display_name", "units", "time_zone"])
        return user


class SettingsForm(WholeModelForm, forms.ModelForm):
    class Meta:
        model = User
        fields = ["display_name", "units", "theme", "time_zone"]
