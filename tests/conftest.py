"""What several tests need: people, a customer, a site."""

import pytest
from django.core.cache import cache
from whitenoise.middleware import WhiteNoiseMiddleware

from planner.record.facts import Ref
from planner.review import base
from sites.actions.records import make_site
from sites.pages.plans import PLANS
from tests.people import by_standing, house_staff, larkfield, outsider


def pytest_xdist_auto_num_workers(config) -> int | None:
    """No worker where single files are asked for: starting them takes longer than most files."""
    return 0 if any(".py" in argument for argument in config.args) else None


@pytest.fixture(scope="session", autouse=True)
def proofs_apart(tmp_path_factory):
    """Photos and files that tests keep lie in a folder of their own."""
    from django.conf import settings

    settings.PROOFS = tmp_path_factory.mktemp("proofs")


@pytest.fixture(scope="session", autouse=True)
def static_files_listed_once():
    """Every client of a test begins with a middleware of its own, and each would walk through all static files again.

    Nobody changes a static file during the tests: the list that the first one makes is handed to the others.
    """
    made, walk = {}, WhiteNoiseMiddleware.add_files_from_finders

    def listed(middleware):
        told = (
            middleware.static_prefix,
            middleware.autorefresh,
            middleware.max_age,
            type(middleware),
        )
        if told not in made:
            walk(middleware)
            made[told] = dict(middleware.files)
        middleware.files.update(made[told])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(WhiteNoiseMiddleware, "add_files_from_finders", listed)
        yield


@pytest.fixture(autouse=True)
def counters_go_too(request, django_db_blocker):
    """What a test counts for good goes as its rows go: the table of counters is no model's, and nothing else
    empties it."""
    yield
    marker = request.node.get_closest_marker("django_db")
    if marker and marker.kwargs.get("transaction"):
        with django_db_blocker.unblock():
            cache.clear()


@pytest.fixture(autouse=True)
def plans_of_before_are_let_go():
    """Keys and counters of a test's rows come again in the next one, and mean other rows there."""
    PLANS.clear()


@pytest.fixture
def staff(db):
    return house_staff()


@pytest.fixture
def customer(staff):
    return larkfield(staff)


@pytest.fixture
def site(customer, staff):
    return make_site(by=staff, customer=customer, code="mill", name="Mill Street", purpose="live")


@pytest.fixture
def people(customer, staff):
    """One person of every standing, by standing."""
    return by_standing(staff, outsider(staff))


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

    words = {
        "title": "Scope is empty",
        "text": "Nobody wrote it.",
        "why": "It must be.",
        "source": "none",
    }
    entry = base.Entry(
        key="trial-rule", chapter=1, trial="remark", live="concern", mend="Write a scope", **words
    )
    monkeypatch.setattr(base, "RULES", {"trial-rule": rule})
    monkeypatch.setattr(base, "entries", lambda: {"trial-rule": entry})
    return lambda site: f"trial-rule:site-{site.pk}:scope"
