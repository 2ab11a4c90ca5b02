"""How much of a tank a club sees."""

from django import forms

from apps.tanks.showing.showing import CORALS, MAP, NOTHING

CHOICES = [
    (NOTHING, "nothing"),
    (MAP, "the light map"),
    (CORALS, "the light map and the corals"),
]


class ShowForm(forms.Form):
    what = forms.ChoiceField(choices=CHOICES, widget=forms.RadioSelect)
