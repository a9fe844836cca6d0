"""Findings about the service and its credentials: each raised by one site and not by another."""

from __future__ import annotations

import datetime as dt

import pytest

from planner.engine.upkeep import certificates
from planner.record import facts as f
from tests.factories import TODAY, make, raised
from tests.review.cases import Case, rules_of

HOSTS = [
    make(f.Host, name="mill-h1"),
    make(f.Host, name="mill-h2"),
    make(f.Host, name="mill-h3", state="spare"),
]
REMOTE, LAN = (
    make(f.Network, name="branch line", purpose="remote"),
    make(f.Network, name="clients", purpose="clients"),
)
MONDAY = dt.date(2026, 4, 13)


PUBLIC = {"certificate_authority": "public", "certificate_renewal": "machine"}


def service(**values) -> f.Service:
    return f.Service(**{"id": 1, "name": "Mill Street desktops", **values})


def issued(**values) -> f.Service:
    return service(**{"certificate": "issued", "entry_name": "desk.larkfield.example", **values})


def appliance(**values) -> f.Appliance:
    return make(
        f.Appliance,
        **{
            "name": "broker-1",
            "host_id": HOSTS[0].id,
            "memory_gib": 8.0,
            "disk_gib": 60.0,
            "address": "10.44.0.31",
            **values,
        },
    )


def credential(**values) -> f.Credential:
    return make(
        f.Credential,
        **{
            "name": "hypervisor administrator",
            "account": "root",
            "where_kept": "safe",
            "who_can_fetch": "A. Marsh",
            "last_changed": TODAY,
            **values,
        },
    )


def group(network: f.Network) -> list:
    return [
        service(outside_access="none"),
        REMOTE,
        LAN,
        make(f.SeatGroup, name="Branch", network_id=network.id),
    ]


def live_on(day: dt.date | None) -> f.Site:
    return f.Site(id=1, purpose="live", go_live_date=day)


DOMAIN = f.Directory(
    directory_kind="domain", domain="corp.larkfield.example", join_account="svc-join"
)

CASES = [
    Case("service-name-missing", [service(name="")], [service()], "name"),
    Case("entry-name-missing", [service()], [issued()], "entry_name"),
    Case("service-address-missing", [service()], [service(address="10.44.0.30")], "address"),
    Case(
        "service-address-origin-unknown",
        [service(address="10.44.0.30")],
        [service(), service(address="10.44.0.30", address_origin="reserved")],
        "address_origin",
    ),
    Case(
        "service-address-dynamic",
        [service(address_origin="dynamic")],
        [service(address_origin="reserved")],
        "address_origin",
        "Mill Street desktops",
    ),
    Case("outside-access-unknown", [service()], [service(outside_access="none")], "outside_access"),
    Case(
        "outside-access-none-but-remote", group(REMOTE), group(LAN), "outside_access", "branch line"
    ),
    Case(
        "initial-secret-unchanged",
        [service(initial_secret_changed=False)],
        [service(), service(initial_secret_changed=True)],
        "initial_secret_changed",
    ),
    Case(
        "initial-secret-unknown",
        [service()],
        [service(initial_secret_changed=False)],
        "initial_secret_changed",
    ),
    Case(
        "thin-disks-unwatched",
        [service(disk_provisioning="thin", space_watcher=" ")],
        [
            service(disk_provisioning="thick"),
            service(disk_provisioning="thin", space_watcher="A. Marsh"),
        ],
        "space_watcher",
    ),
    Case("service-backup-unknown", [service()], [service(backup_place="share")], "backup_place"),
    Case("certificate-unknown", [service()], [issued()], "certificate"),
    Case("certificate-own", [service(certificate="own")], [issued()], "certificate", trial=False),
    Case(
        "certificate-names-missing",
        [issued()],
        [service(certificate="own"), issued(certificate_names=("desk.larkfield.example",))],
        "certificate_names",
    ),
    Case(
        "certificate-not-covering",
        [issued(certificate_names=("larkfield.example", "*.example"))],
        [issued(), issued(certificate_names=("www.larkfield.example", "*.larkfield.example"))],
        "certificate_names",
        "larkfield.example, *.example",
    ),
    Case(
        "certificate-expiry-unknown",
        [issued()],
        [service(certificate="own"), issued(certificate_expires=MONDAY)],
        "certificate_expires",
    ),
    Case(
        "certificate-ends-before",
        [issued(certificate_expires=dt.date(2026, 3, 1))],
        [issued(certificate_expires=dt.date(2026, 3, 2))],
        "certificate_expires",
        "Sun 1 Mar 2026",
    ),
    Case(
        "certificate-ends-soon",
        [issued(certificate_expires=dt.date(2026, 4, 30))],
        [issued(certificate_expires=dt.date(2026, 5, 1))],
        "certificate_expires",
        "59 days after today",
        trial=False,
    ),
    Case(
        "certificate-authority-unknown",
        [issued()],
        [service(certificate="own"), issued(certificate_authority="private")],
        "certificate_authority",
    ),
    Case(
        # TODAY is 2 March 2026: 398 days were allowed until the 14th, 200 from the 15th on
        "certificate-longer-than-issued",
        [issued(**PUBLIC, certificate_issued=TODAY, certificate_expires=dt.date(2027, 4, 5))],
        [
            issued(**PUBLIC, certificate_issued=TODAY, certificate_expires=dt.date(2027, 4, 4)),
            issued(
                certificate_authority="private",
                certificate_issued=TODAY,
                certificate_expires=dt.date(2030, 1, 1),
            ),
        ],
        "certificate_expires",
        "Mon 5 Apr 2027",
    ),
    Case(
        "certificate-renewal-unknown",
        [issued(certificate_authority="public")],
        [issued(**PUBLIC), issued(certificate_authority="private"), service(certificate="own")],
        "certificate_renewal",
    ),
    Case(
        "certificate-renewed-by-hand",
        [issued(certificate_authority="public", certificate_renewal="hand")],
        [issued(**PUBLIC), issued(certificate_authority="private", certificate_renewal="hand")],
        "certificate_renewal",
        "398 days at the most",
        trial=False,
    ),
    Case("no-appliance", [service()], [appliance()]),
    Case(
        "one-appliance",
        [*HOSTS, appliance()],
        [HOSTS[0], HOSTS[2], appliance()],
        says="2 hosts",
        trial=False,
    ),
    Case("appliance-no-host", [appliance(host_id=None)], [appliance()], "host_id", "broker-1"),
    Case(
        "appliance-no-memory", [appliance(memory_gib=None)], [appliance()], "memory_gib", "broker-1"
    ),
    Case("appliance-no-disk", [appliance(disk_gib=None)], [appliance()], "disk_gib", "broker-1"),
    Case("appliance-no-address", [appliance(address="")], [appliance()], "address", "broker-1"),
    Case(
        "appliances-on-one-host",
        [*HOSTS, appliance(), appliance(name="broker-2")],
        [
            *HOSTS,
            appliance(),
            appliance(name="broker-2", host_id=HOSTS[1].id),
            appliance(host_id=None),
            appliance(host_id=None),
        ],
        "host_id",
        "broker-2 and broker-1",
    ),
    Case(
        "appliance-on-spare",
        [*HOSTS, appliance(host_id=HOSTS[2].id)],
        [*HOSTS, appliance()],
        "host_id",
        "mill-h3",
    ),
    Case("no-display-protocol", [], [make(f.Protocol, tcp_port=3389)]),
    Case(
        "protocol-no-port",
        [make(f.Protocol, name="own")],
        [make(f.Protocol, udp_port=3389)],
        "tcp_port",
        "own",
    ),
    Case("agent-ports-unknown", [service()], [service(agent_ports=("8443/tcp",))], "agent_ports"),
    Case(
        "credential-nobody-fetches",
        [credential(who_can_fetch=" ")],
        [credential()],
        "who_can_fetch",
        "hypervisor",
    ),
    Case(
        "credential-place-unknown",
        [credential(where_kept="")],
        [credential()],
        "where_kept",
        "hypervisor",
    ),
    Case(
        "credential-still-initial",
        [credential(still_initial=True)],
        [credential(), credential(still_initial=False)],
        "still_initial",
        "hypervisor",
    ),
    Case(
        "credential-old",
        [credential(last_changed=dt.date(2025, 3, 1))],
        [credential(last_changed=dt.date(2025, 3, 2))],
        "last_changed",
        "366 days",
        trial=False,
    ),
    Case(
        "credential-no-date",
        [credential(last_changed=None)],
        [credential()],
        "last_changed",
        "hypervisor",
        trial=False,
    ),
    Case(
        "no-hypervisor-credential", [*HOSTS, credential(name="directory")], [*HOSTS, credential()]
    ),
    Case(
        "no-directory-credential",
        [DOMAIN, credential()],
        [DOMAIN, credential(name="joins", account="SVC-JOIN")],
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.key)
def test_a_rule_is_raised_and_not(case):
    case.check()
    assert raised(case.key, *case.yes)[0].chapter == 5


def test_every_rule_of_the_group_has_its_case():
    assert {case.key for case in CASES} == rules_of("service", "credentials")


# -- Certificates against go-live ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("go_live", "expires", "before", "soon"),
    [
        (MONDAY, dt.date(2026, 4, 12), True, False),  # ends the day before go-live
        (MONDAY, MONDAY, False, True),  # ends on the day itself
        (MONDAY, dt.date(2026, 6, 11), False, True),  # 59 days on: April has 30 days, May 31
        (MONDAY, dt.date(2026, 6, 12), False, False),  # 60 days on
        (
            dt.date(2025, 1, 6),
            dt.date(2026, 2, 1),
            True,
            False,
        ),  # go-live is long over: against today, 2 March 2026
        (None, None, False, False),
    ],
)
def test_a_certificate_outlasts_go_live_by_sixty_days(go_live, expires, before, soon):
    """Common practice, no source, for the sixty days; the days themselves by the calendar."""
    records = (live_on(go_live), issued(certificate_expires=expires))
    assert bool(raised("certificate-ends-before", *records)) is before
    assert bool(raised("certificate-ends-soon", *records)) is soon


def test_the_words_say_against_which_day():
    over, ahead = (
        issued(certificate_expires=dt.date(2026, 3, 1)),
        issued(certificate_expires=dt.date(2026, 4, 1)),
    )
    assert "before today" in raised("certificate-ends-before", live_on(MONDAY), over)[0].title
    assert "before go-live" in raised("certificate-ends-before", live_on(MONDAY), ahead)[0].title
    soon = issued(certificate_expires=dt.date(2026, 4, 20))
    assert "7 days after go-live" in raised("certificate-ends-soon", live_on(MONDAY), soon)[0].title


def test_a_site_may_want_longer():
    records = (live_on(MONDAY), issued(certificate_expires=dt.date(2026, 7, 1)))
    wanted = f.Assumed(key="certificate.days-after-go-live", value=90)
    assert not raised("certificate-ends-soon", *records)
    assert raised("certificate-ends-soon", *records, wanted)


def test_a_wildcard_stands_for_one_label():
    """Source: RFC 9525 §6.3."""
    deep = {"entry_name": "desk.mill.larkfield.example"}
    assert raised(
        "certificate-not-covering", issued(**deep, certificate_names=("*.larkfield.example",))
    )
    assert not raised(
        "certificate-not-covering", issued(**deep, certificate_names=("*.mill.larkfield.example",))
    )


# -- Credentials ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words",
    [{"name": "Hypervisor"}, {"account": "admin@MILL-H2"}, {"privilege": "all on every host"}],
)
def test_what_speaks_of_a_host(words):
    plain = {"name": "x", "account": "y", "privilege": "z"}
    assert raised("no-hypervisor-credential", *HOSTS, credential(**plain))
    assert not raised("no-hypervisor-credential", *HOSTS, credential(**{**plain, **words}))


def test_without_a_host_or_a_domain_no_credential_is_missed():
    assert not raised("no-hypervisor-credential")
    assert not raised("no-directory-credential", f.Directory(directory_kind="own-accounts"))


def test_an_unnamed_host_does_not_match_everything():
    assert raised(
        "no-hypervisor-credential", make(f.Host, name=""), credential(name="x", account="y")
    )


def test_three_appliances_on_one_host_are_two_findings():
    found = raised(
        "appliances-on-one-host", *HOSTS, *(appliance(name=f"broker-{n}") for n in (1, 2, 3))
    )
    assert len({one.token for one in found}) == 2


def test_one_that_renews_itself_needs_no_two_months():
    """A third of its days are left before every renewal; one by hand wants the sixty days of the assumption."""
    soon = dt.date(2026, 4, 20)
    by_hand = issued(certificate_expires=soon, certificate_renewal="hand")
    assert raised("certificate-ends-soon", live_on(None), by_hand)
    later = dt.date(2026, 7, 20)
    assert not raised(
        "certificate-ends-soon", live_on(None), issued(**PUBLIC, certificate_expires=later)
    )


@pytest.mark.parametrize(
    ("issued_on", "ends"),
    [
        (dt.date(2026, 3, 14), dt.date(2027, 4, 16)),
        (dt.date(2026, 3, 15), dt.date(2026, 10, 1)),
        (dt.date(2027, 3, 14), dt.date(2027, 9, 30)),
        (dt.date(2027, 3, 15), dt.date(2027, 6, 23)),
        (dt.date(2029, 3, 14), dt.date(2029, 6, 22)),
        (dt.date(2029, 3, 15), dt.date(2029, 5, 1)),
    ],
)
def test_the_terms_of_public_certificates(issued_on, ends):
    """Source: CA/Browser Forum, ballot SC-081v3: 398, then 200 days from 15 March 2026, 100 from 2027, 47 from 2029."""
    longest = certificates.longest_days(issued_on)
    assert issued_on + dt.timedelta(days=longest) == ends


def test_of_an_unknown_day_of_issue_the_best_is_believed():
    """One that ends on 16 April 2027 may have been issued on the last day of the long terms; one a day later not."""
    day = dt.date(2026, 11, 25)
    assert certificates.latest_end(day) == dt.date(2027, 6, 13)  # 200 days from today
    assert certificates.latest_end(dt.date(2026, 4, 1)) == dt.date(2027, 4, 16)
    assert certificates.latest_end(dt.date(2017, 1, 1)) is None
    assert certificates.longest_days(dt.date(2017, 1, 1)) is None
