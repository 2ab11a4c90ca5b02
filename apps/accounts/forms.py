"""Sign-in, sign-up, passwords, and the keeper's own settings."""

from allauth.account import forms as allauth_forms
from django import forms
from django.contrib.auth.password_validation import validate_password

from apps.accounts.models import User, validate_time_zone
from apps.common.model_forms import WholeModelForm
from apps.common.units import UNIT_CHOICES
from apps.common.validation import hidden_text_problem
from apps.photics.ground.lengths import CM

PASSWORD_HELP = "At least 8 characters. Not a common password, a date, or just words like reef."
# How each field of the sign-in forms is called here.
LABELS = {
    "login": "E-mail",
    "email": "E-mail",
    "oldpassword": "Current password",
    "password1": "New password",
    "password2": "New password again",
}


class PlainFields:
    """Mixin before an account form: our words for its fields, no label written twice."""

    labels = LABELS

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            field.label = self.labels.get(name, field.label)
            field.widget.attrs.pop("placeholder", None)
        if "password1" in self.fields:
            self.fields["password1"].help_text = PASSWORD_HELP


class LoginForm(PlainFields, allauth_forms.LoginForm):
    pass


class ReauthenticateForm(PlainFields, allauth_forms.ReauthenticateForm):
    pass


class ChangePasswordForm(PlainFields, allauth_forms.ChangePasswordForm):
    pass


class SetPasswordForm(PlainFields, allauth_forms.SetPasswordForm):
    pass


class ResetPasswordForm(PlainFields, allauth_forms.ResetPasswordForm):
    pass


class ResetPasswordKeyForm(PlainFields, allauth_forms.ResetPasswordKeyForm):
    pass


class ChangeEmailForm(PlainFields, allauth_forms.AddEmailForm):
    labels = LABELS | {"email": "New e-mail"}


class SignupForm(PlainFields, allauth_forms.SignupForm):
    """E-mail, password, and the two things that make every later page right."""

    labels = LABELS | {"password1": "Password"}

    display_name = forms.CharField(label="Name others see", max_length=60, required=False)
    units = forms.ChoiceField(
        label="Lengths in", choices=UNIT_CHOICES, initial=CM, widget=forms.RadioSelect
    )
    # Filled by the browser; a keeper can change it in settings.
    time_zone = forms.CharField(
        required=False, widget=forms.HiddenInput(attrs={"data-time-zone": ""})
    )

    field_order = ["email", "password1", "display_name", "units", "time_zone"]

    def clean_display_name(self):
        name = self.cleaned_data["display_name"]
        if problem := hidden_text_problem(User._meta.get_field("display_name"), name):
            raise forms.ValidationError(problem)
        return name

    def clean(self):
        super().clean()
        # What was compared so far with the e-mail alone: there is no account yet.
        if password := self.cleaned_data.get("password1"):
            keeper = User(display_name=self.cleaned_data.get("display_name", ""))
            try:
                validate_password(password, keeper)
            except forms.ValidationError as problem:
                self.add_error("password1", problem)
        return self.cleaned_data

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
        fields = ["display_name", "units", "theme", "time_zone", "currency"]
        labels = {"theme": "Light or dark pages"}
        widgets = {
            "units": forms.RadioSelect,
            "theme": forms.RadioSelect,
            "time_zone": forms.TextInput(attrs={"list": "time-zones", "autocomplete": "off"}),
        }
        help_texts = {
            "time_zone": "A city near you, such as Europe/Berlin. New tanks start with it.",
            "currency": "For prices in your plans, such as EUR or £.",
        }
