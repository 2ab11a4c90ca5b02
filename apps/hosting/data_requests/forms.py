"""What a keeper asks, and what a host answers."""

from django import forms

from apps.hosting.models import WORDS_MOST, DataRequest


class DataRequestForm(forms.ModelForm):
    kind = forms.ChoiceField(
        label="What do you want?", choices=DataRequest.Kind.choices, widget=forms.RadioSelect
    )

    class Meta:
        model = DataRequest
        fields = ["kind", "words"]
        widgets = {"words": forms.Textarea(attrs={"rows": 4})}


class AnswerForm(forms.Form):
    state = forms.ChoiceField(
        label="Result",
        choices=[one for one in DataRequest.State.choices if one[0] != DataRequest.State.WAITING],
        widget=forms.RadioSelect,
    )
    words = forms.CharField(
        label="Your answer", max_length=WORDS_MOST, widget=forms.Textarea(attrs={"rows": 4})
    )
