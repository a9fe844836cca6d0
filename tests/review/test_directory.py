"""Findings about the directory: each raised by one site and not by another."""

from __future__ import annotations

import pytest

from planner.record import facts as f
from planner.record.facts import Ref
from tests.factories import make, raised
from tests.review.cases import Case, rules_of


def directory(**values) -> f.Directory:
    return f.Directory(
        **{"id": 1, "directory_kind": "domain", "domain": "corp.larkfield.example", **values}
    )


def server(*roles: str, **values) -> f.Server:
    return make(f.Server, **{"name": "dc-1", "address": "10.44.0.5", "roles": roles, **values})


CASES = [
    Case(
        "black-start-circle",
        [server("directory", "dns", stands="guest")],
        [
            server("directory", "dns", stands="guest"),
            server("directory", "dns", stands="own", name="dc-2"),
        ],
        "stands",
        "the directory and the DNS",
    ),
    Case(
        "server-standing-unknown",
        [server("dns")],
        [server("dns", stands="own"), server("files")],
        "stands",
        "dc-1",
        trial=False,
    ),
    Case("directory-kind-missing", [directory(directory_kind="")], [directory()], "directory_kind"),
    Case("directory-domain-missing", [directory(domain="")], [directory()], "domain"),
    Case(
        "directory-domain-single-label",
        [directory(domain="LARKFIELD.")],
        [directory()],
        "domain",
        "LARKFIELD",
    ),
    Case(
        "directory-domain-local",
        [directory(domain="corp.Larkfield.LOCAL.")],
        [directory(domain="local.larkfield.example")],
        "domain",
        ".local",
    ),
    Case("directory-no-server", [server("dns")], [server("directory")]),
    Case(
        "directory-one-server",
        [server("directory"), server("dns")],
        [server("directory"), server("directory")],
        "roles",
        "dc-1",
        trial=False,
    ),
    Case("no-dns-server", [server("directory")], [server("dns")]),
    Case(
        "directory-server-no-address",
        [server("dns", address="")],
        [server("files", address=""), server("dns")],
        "address",
        "dc-1",
    ),
    Case("server-no-role", [server()], [server("files")], "roles", "dc-1"),
    Case(
        "directory-no-time-source",
        [directory()],
        [directory(time_source="ntp.example.net")],
        "time_source",
    ),
    Case(
        "desktop-unit-missing",
        [directory()],
        [directory(desktop_ou="OU=Desktops,DC=corp")],
        "desktop_ou",
    ),
    Case(
        "join-account-missing", [directory()], [directory(join_account="svc-join")], "join_account"
    ),
    Case(
        "join-account-full",
        [directory(join_account="svc-join", join_rights="full")],
        [directory(join_account="svc-join", join_rights="join-only")],
        "join_rights",
        "svc-join",
    ),
    Case(
        "join-account-more",
        [directory(join_account="svc-join", join_rights="more")],
        [directory(join_account="svc-join", join_rights="full")],
        "join_rights",
        "svc-join",
    ),
    Case(
        "join-rights-unknown",
        [directory(join_account="svc-join")],
        [directory(), directory(join_account="svc-join", join_rights="join-only")],
        "join_rights",
        "svc-join",
    ),
    Case(
        "sign-in-policy-missing",
        [directory()],
        [directory(sign_in_policy="“Desktop users”")],
        "sign_in_policy",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.key)
def test_a_rule_is_raised_and_not(case):
    case.check()
    assert raised(case.key, *case.yes)[0].chapter == 4


def test_every_rule_of_the_group_has_its_case():
    assert {case.key for case in CASES} == rules_of("directory")


ABOUT_A_DIRECTORY = rules_of("directory") - {
    "directory-kind-missing",
    "no-dns-server",
    "directory-server-no-address",
    "server-no-role",
}


@pytest.mark.parametrize("key", sorted(ABOUT_A_DIRECTORY))
def test_a_service_with_its_own_accounts_needs_no_directory(key):
    odd = directory(
        directory_kind="own-accounts", domain="x.local", join_account="a", join_rights="full"
    )
    assert not raised(key, odd, server("directory"))
    assert not raised(key, directory(directory_kind="own-accounts", domain=""))


@pytest.mark.parametrize(
    ("domain", "found"),
    [
        ("example.local", True),
        ("EXAMPLE.LOCAL.", True),
        ("local", False),
        ("local.example", False),
        ("example.locale", False),
        ("mylocal", False),
    ],
)
def test_which_names_are_on_the_local_link(domain, found):
    """Source: RFC 6762 §3: names that end in “.local.”, without regard to case, belong to the link."""
    assert bool(raised("directory-domain-local", directory(domain=domain))) is found


def test_the_networks_suffix_can_be_set_as_the_domain():
    networks = [make(f.Network, domain_suffix="corp.larkfield.example") for _ in range(2)]
    mend = raised("directory-domain-missing", directory(domain=""), *networks)[0].mend
    assert (mend.record, mend.values) == (
        Ref("directory", 1),
        (("domain", "corp.larkfield.example"),),
    )
    assert "corp.larkfield.example" in mend.words
    other = make(f.Network, domain_suffix="guests.example")
    assert (
        raised("directory-domain-missing", directory(domain=""), *networks, other)[0].mend is None
    )
    assert (
        raised(
            "directory-domain-missing",
            directory(domain=""),
            make(f.Network, domain_suffix="larkfield"),
        )[0].mend
        is None
    )


def test_a_full_administrator_stops_a_live_site_only():
    full = directory(join_account="svc-join", join_rights="full")
    assert raised("join-account-full", full)[0].weight == "stopper"
    assert raised("join-account-full", full, purpose="trial")[0].weight == "remark"
