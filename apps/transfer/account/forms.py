"""What a keeper says to delete their account."""

from django import forms
from django.core.exceptions import ValidationError

from apps.accounts.models import User
from apps.transfer.account.leaving import clubs_left_alone


class LeavingForm(forms.Form):
    password = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, *args: object, user: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.user = user

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        if not self.user.check_password(password):
            raise ValidationError("This is not your password.")
        return password

    def clean(self) -> dict[str, object]:
        if clubs := clubs_left_alone(self.user):
            names = ", ".join(club.name for club in clubs)
            raise ValidationError(f"Make somebody else an officer first, of: {names}.")
        return super().clean()
