"""The form that makes a link to the acceptance sheet."""

from __future__ import annotations

from django import forms

from sites.forms.fields import Words


class PilotLinkForm(forms.Form):
    person = Words(label="For", max_length=120, help_text="The pilot person's name, as it shall stand in the answers.")
    days = forms.IntegerField(label="Open for, days", min_value=1, max_value=60, initial=7)
