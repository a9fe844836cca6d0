"""Forms of the pages on which house staff look after people and customers."""

from __future__ import annotations

from django import forms

from sites.forms.customers import CustomerForm
from sites.forms.fields import Words
from sites.forms.people import Address
from sites.forms.secrets import AskingForm
from sites.models import Person

GIB = 1024


class NameForm(AskingForm):
    about = "person"
    name = Words(
        label="Name",
        max_length=120,
        help_text="As it stands under answers and on papers from now on.",
    )


class GivenAddressForm(AskingForm):
    about = "person"
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


class StaffForm(AskingForm):
    """Somebody new of the house."""

    about = "person"

    email = Address(
        label="E-mail",
        help_text="The invitation goes there. They are house staff once they accept it.",
    )
    name = Words(label="Name", max_length=120, required=False)


class HouseCustomerForm(CustomerForm):
    """What house staff change of a customer: what a lead does, and the room for proofs."""

    CHANGING = {}  # it is made for nothing else

    proof_mib = forms.IntegerField(
        label="Room for proofs, MiB",
        required=False,
        min_value=1,
        max_value=1024 * GIB,
        help_text="Photos and files together. Left empty, the house's own limit holds.",
        widget=forms.TextInput({"inputmode": "numeric"}),
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, changing=True, **kwargs)
