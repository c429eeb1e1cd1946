"""The owner's answer."""

from django import forms


class DecisionForm(forms.Form):
    """Yes or no to one offer, signed with a typed name. Nothing is chosen beforehand."""

    answer = forms.ChoiceField(
        label="Your answer",
        choices=[("approve", "Yes, please do this work"), ("decline", "No, leave this as it is")],
        widget=forms.RadioSelect,
        error_messages={"required": "Please choose yes or no.", "invalid_choice": "Please choose yes or no."},
    )
    typed_name = forms.CharField(
        label="Type your name to sign",
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
        error_messages={
            "required": "Please type your name.",
            "max_length": "Please use a name of 80 letters or fewer.",
        },
    )
    seen_sha256 = forms.CharField(max_length=64, widget=forms.HiddenInput)
