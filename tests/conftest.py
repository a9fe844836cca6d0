"""What several tests need: people, a customer, a site."""

import pytest

from planner.facts import Ref
from planner.review import base
from sites.actions.customers import make_customer, set_member
from sites.actions.records import make_site


@pytest.fixture(scope="session", autouse=True)
def proofs_apart(tmp_path_factory):
    """Photos and files that tests keep lie in a folder of their own."""
    from django.conf import settings

    settings.PROOFS = tmp_path_factory.mktemp("proofs")


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


@pytest.fixture
def trial_rule(monkeypatch):
    """One rule alone, with a mend, that stands at the site while its scope is empty; gives its token."""

    def rule(plan):
        if not plan.facts.site.scope:
            at = Ref("site", plan.facts.site.id, "scope")
            yield base.Hit(at, mend=base.Mend(at.at(""), (("scope", "Desktops for everybody."),)))

    words = {"title": "Scope is empty", "text": "Nobody wrote it.", "why": "It must be.", "source": "none"}
    entry = base.Entry(key="trial-rule", chapter=1, trial="remark", live="concern", mend="Write a scope", **words)
    monkeypatch.setattr(base, "RULES", {"trial-rule": rule})
    monkeypatch.setattr(base, "entries", lambda: {"trial-rule": entry})
    return lambda site: f"trial-rule:site-{site.pk}:scope"
