"""0 Customer: its own form, its members, its new sites."""

from __future__ import annotations

from typing import Self

from crispy_forms.layout import Field as InRow
from crispy_forms.layout import LayoutObject
from django import forms

from planner.record.choices import Role, SitePurpose
from sites.forms.fields import Words
from sites.forms.guard import GuardedForm
from sites.forms.layout import Laid
from sites.forms.secrets import AskingForm
from sites.models import Customer, Site
from sites.models.customers import CODE


class CustomerForm(GuardedForm):
    about = "customer"
    CHANGING = {"changing": True}  # said when a form is made for a customer that is there
    name = Words(label="Name", max_length=200, help_text="As on its letterhead.")
    code = forms.CharField(
        label="Code",
        max_length=40,
        validators=[CODE],
        help_text="Short, in small letters; it stands in addresses of pages.",
    )
    reference = Words(
        label="Reference",
        max_length=200,
        required=False,
        help_text="The customer's number in your own books.",
    )
    note = Words(
        label="Note", required=False, max_length=20_000, widget=forms.Textarea({"rows": 3})
    )

    def __init__(self, *args, customer: Customer | None = None, changing: bool = False, **kwargs):
        kwargs.setdefault("auto_id", "customer-%s")
        super().__init__(*args, **kwargs)
        self.customer = customer
        if changing:
            del self.fields["code"]  # it stands in addresses that people have written down
            self.guard_at(customer.edits if customer else 0)

    def clean_code(self) -> str:
        code = self.cleaned_data["code"]
        taken = Customer.objects.filter(code=code).exclude(pk=self.customer and self.customer.pk)
        if taken.exists():
            raise forms.ValidationError("Another customer has this code.")
        return code

    def with_theirs(self, record: Customer, names: list[str]) -> Self:
        """The form as it was sent, beside what only somebody else changed."""
        sent = self.sent_beside(record, names)
        return type(self)(sent, customer=record, **self.CHANGING)


class SiteForm(AskingForm):
    about = "site"
    name = Words(label="Site name", max_length=200)
    code = forms.CharField(
        label="Code", max_length=40, validators=[CODE], help_text="Short, in small letters."
    )
    purpose = forms.ChoiceField(label="Purpose", choices=SitePurpose.pairs())

    def __init__(self, *args, customer: Customer, **kwargs):
        kwargs.setdefault("auto_id", "site-%s")
        super().__init__(*args, **kwargs)
        self.customer = customer

    def clean_code(self) -> str:
        code = self.cleaned_data["code"]
        if Site.objects.filter(customer=self.customer, code=code).exists():
            raise forms.ValidationError("Another site of this customer has this code.")
        return code


class RoleForm(Laid, forms.Form):
    """What one member may do, in the row of the member: ``whose``."""

    role = forms.ChoiceField(choices=[*Role.pairs(), ("", "no longer a member")], required=False)

    def __init__(self, *args, whose: object = "they", **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["role"].label = f"What {whose} may do"

    def pieces(self) -> list[str | LayoutObject]:
        return [InRow("role", template="deskwright/in_row.html")]


class CopyForm(AskingForm):
    """Where a copy of a site goes, and what goes with it."""

    about = "site"

    customer = forms.ModelChoiceField(
        label="To customer",
        queryset=Customer.objects.none(),
        to_field_name="code",
        empty_label=None,
    )
    name = Words(label="Site name", max_length=200)
    code = forms.CharField(
        label="Code", max_length=40, validators=[CODE], help_text="Short, in small letters."
    )
    with_addresses = forms.BooleanField(
        label="With its addresses",
        required=False,
        help_text="Subnets, addresses and MACs. Leave them out for another place: they would be claimed twice.",
    )
    with_answers = forms.BooleanField(
        label="With its answers",
        required=False,
        help_text="What was on trust or excused. What was proven or failed there is open here: nobody looked here yet.",
    )

    def __init__(self, *args, customers, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["customer"].queryset = customers

    def clean(self):
        values = super().clean()
        customer, code = values.get("customer"), values.get("code")
        if customer and code and Site.objects.filter(customer=customer, code=code).exists():
            self.add_error("code", "Another site of that customer has this code.")
        return values
