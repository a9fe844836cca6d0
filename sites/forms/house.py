"""Forms of the pages on which house staff look after people and customers."""

from __future__ import annotations

from django import forms

from sites.forms.fields import Words
from sites.models import Person

GIB = 1024


class Address(forms.EmailField):
    """An e-mail address, as it is compared: in small letters."""

    def clean(self, value):
        return super().clean(value).lower()


class NameForm(forms.Form):
    name = Words(
        label="Name",
        max_length=120,
        help_text="As it stands under answers and on papers from now on.",
    )


class AddressForm(forms.Form):
    email = Address(
        label="E-mail",
        help_text="It counts as not proven; every session and every letter under way ends.",
    )

    def __init__(self, *args, person: Person, **kwargs):
        super().__init__(*args, **kwargs)
        self.person = person

    def clean_email(self) -> str:
        email = self.cleaned_data["email"]
        if Person.objects.filter(email=email).exclude(pk=self.person.pk).exists():
            raise forms.ValidationError("Another account has this address.")
        return email


class StaffForm(forms.Form):
    """Somebody new of the house."""

    email = Address(
        label="E-mail",
        help_text="The invitation goes there. They are house staff once they accept it.",
    )
    name = Words(label="Name", max_length=120, required=False)


class HouseCustomerForm(forms.Form):
    """What house staff change of a customer."""

    name = Words(label="Name", max_length=200, help_text="As on its letterhead.")
    reference = Words(
        label="Reference",
        max_length=200,
        required=False,
        help_text="The customer's number in your own books.",
    )
    note = Words(
        label="Note", required=False, max_length=20_000, widget=forms.Textarea({"rows": 3})
    )
    proof_mib = forms.IntegerField(
        label="Room for proofs, MiB",
        required=False,
        min_value=1,
        max_value=1024 * GIB,
        help_text="Photos and files together. Left empty, the house's own limit holds.",
        widget=forms.TextInput({"inputmode": "numeric"}),
    )
