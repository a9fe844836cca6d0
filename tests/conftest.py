"""What several tests need: people, a customer, a site."""

import pytest

from sites.actions.customers import make_customer, set_member
from sites.actions.records import make_site


@pytest.fixture
def staff(db, django_user_model):
    return django_user_model.objects.create_superuser("staff@house.example", "paper-and-pencil", name="Staff")


@pytest.fixture
def customer(staff):
    made = make_customer(by=staff, values={"name": "Larkfield Vets", "code": "larkfield"})
    for role in ("reader", "editor", "lead"):
        set_member(customer=made, email=f"{role}@larkfield.example", role=role)
    return made


@pytest.fixture
def site(customer, staff):
    return make_site(by=staff, customer=customer, code="mill", name="Mill Street", purpose="live")


@pytest.fixture
def people(customer, staff, django_user_model):
    """One person of every standing, by standing."""
    other = make_customer(by=staff, values={"name": "Other", "code": "other"})
    outsider = set_member(customer=other, email="lead@other.example", role="lead")
    found = {
        role: django_user_model.objects.get(email=f"{role}@larkfield.example") for role in ("reader", "editor", "lead")
    }
    return {"nobody": None, "outsider": outsider, **found, "staff": staff}


@pytest.fixture
def enter(client):
    """Signs somebody in and gives the client."""

    def sign_in(person):
        client.logout()
        if person:
            client.force_login(person)
        return client

    return sign_in
