"""What is typed about a club, its links, its people, and leaving it."""

from django import forms

from apps.accounts.models import User
from apps.clubs.leaving import others_in
from apps.clubs.models import Club, ClubLink, Membership
from apps.common.links.forms import LinkForm
from apps.common.model_forms import WholeModelForm


class ClubForm(WholeModelForm, forms.ModelForm):
    class Meta:
        model = Club
        fields = ["name"]
        labels = {"name": "What the club is called"}


class ClubLinkForm(LinkForm):
    class Meta:
        model = ClubLink
        fields = ["label"]
        help_texts = {"label": "Tells you which link to revoke later. Who opens it doesn’t see it."}

    field_order = ["label", "days"]


class RoleForm(forms.Form):
    role = forms.ChoiceField(label="Role", choices=Membership.Role, widget=forms.RadioSelect)


class SuccessorForm(forms.Form):
    """Whom a last officer leaves the club to."""

    successor = forms.ModelChoiceField(
        label="Who looks after it from now on?",
        queryset=Membership.objects.none(),
        empty_label=None,
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: object, club: Club, user: User, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        self.fields["successor"].queryset = others_in(club, user)
        self.fields["successor"].label_from_instance = lambda membership: str(membership.user)
