"""Whom a host helps."""

from django import forms
from django.core.exceptions import ValidationError

from apps.accounts.models import User


class KeeperForm(forms.Form):
    email = forms.EmailField(label="E-mail of the keeper")

    def clean_email(self) -> User:
        """Return the keeper; the host may learn who has an account, since it is their site."""
        email = self.cleaned_data["email"]
        user = User.objects.filter(email__iexact=email, is_active=True).first()
        if user is None:
            raise ValidationError("Nobody signs in with this e-mail.")
        return user
