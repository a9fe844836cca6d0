"""9.1 Addresses: shown, looked up, taken, laid out, carved, leased; and what a link to another site brings."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils.html import escape

from planner import work_out
from sites.actions.copying import copy_site
from sites.actions.records import add_record, change_record, make_site, remove_site
from sites.loading import read_site
from sites.models import Appliance, Device, Host, Network, Site

URL = "/at/larkfield/mill/addresses/"


@pytest.fixture
def add(site, staff):
    def added(kind, at=site, **values):
        return add_record(by=staff, site=at, kind=kind, values=values)

    return added


@pytest.fixture
def core(add):
    return add(
        "network", name="core", purpose="management", cidr="10.44.1.0/24", gateway="10.44.1.1"
    )


def page(client, query="", path=""):
    return client.get(f"{URL}{path}{query}").content.decode()


def tokens(text):
    return re.findall(r'name="take" value="([^"]+)"', text)


def plain(text):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text))


# -- shown -------------------------------------------------------------------------------------------


def test_networks_come_first_with_how_full_they_are(core, add, people, enter):
    add("network", name="later")
    add("host", name="mill-h1", network_id=core.pk, address="10.44.1.11")
    text = plain(page(enter(people["reader"])))
    assert (
        "core 10.44.1.0/24" in text and "254 2 0 252 1" in text
    )  # usable, taken, leased, free, per cent
    assert "later subnet not known yet" in text
    assert (
        text.index("254 2 0 252") < text.index("core, 10.44.1.0/24") < text.index("Every address")
    )


def test_names_are_only_ever_words(core, add, people, enter):
    """In the table of claims, among those to settle and among those without an address."""
    odd = '<b>"&'
    for address in ("10.44.1.11", "10.44.1.11", ""):
        add("device", name=odd, network_id=core.pk, address=address, what=odd, mac=odd)
    text = page(enter(people["editor"])).partition('id="addresses"')[2]
    assert odd not in text and text.count(f"{escape(odd)}</a>") >= 5


def test_the_network_in_the_link_is_shown(core, add, people, enter):
    other = add("network", name="desks", cidr="10.44.2.0/25", gateway="10.44.2.1")
    client = enter(people["reader"])
    assert "Addresses of desks, 10.44.2.0/25" in page(client, f"?network={other.pk}")
    for wrong in ("99999", "x", "-1", "9" * 40, ""):
        assert "Addresses of core, 10.44.1.0/24" in page(client, f"?network={wrong}")


def test_a_16_is_never_sent_address_by_address(add, people, enter):
    big = add("network", name="campus", cidr="10.7.0.0/16", gateway="10.7.0.1")
    at = [f"10.7.{n % 256}.{n // 256 + 9}" for n in range(1000)]
    Device.objects.bulk_create(
        Device(site_id=big.site_id, name=f"to {one}", network=big, address=one) for one in at
    )
    client = enter(people["reader"])
    whole = page(client, f"?network={big.pk}")
    assert (
        whole.count("<rect") < 700 and "claims in 256 addresses" in whole and "10.7.255.0" in whole
    )
    part = page(client, f"?network={big.pk}&part=10.7.3.9")
    assert (
        "10.7.3.0/24 of 10.7.0.0/16" in part and "10.7.3.12" in part and part.count("<rect") < 700
    )
    assert "801 more" in plain(whole)  # of 1,001 claims two hundred are shown


def test_what_people_typed_is_escaped(core, add, people, enter):
    add("device", name="<script>x</script>", network_id=core.pk, address="10.44.1.60")
    text = page(enter(people["reader"]), "?q=%3Cscript%3E&network=%22%3E&part=%22%3E")
    assert "<script>x" not in text and escape("<script>x</script>") in text


def test_ipv6_is_listed_with_the_others(core, add, people, enter):
    add(
        "host",
        name="mill-h1",
        network_id=core.pk,
        address="10.44.1.11",
        ipv6_address="2001:db8:44:1::11",
    )
    assert "2001:db8:44:1::11" in page(enter(people["reader"]))


@pytest.mark.parametrize(
    ("typed", "kept"), [("2001:DB8:0:0::11", "2001:db8::11"), ("fe80::1", "fe80::1")]
)
def test_ipv6_is_kept_in_its_usual_form(site, people, enter, typed, kept):
    """RFC 5952 section 4: small letters, the longest run of zeros left out."""
    enter(people["editor"]).post(
        "/at/larkfield/mill/add/devices",
        {"new-devices-name": "cam", "new-devices-ipv6_address": typed},
    )
    assert Device.objects.get().ipv6_address == kept


@pytest.mark.parametrize("typed", ["2001:db8::g", "10.44.1.9", "fe80::1%eth0", "2001:db8::/64"])
def test_what_is_no_ipv6_address_is_refused(site, people, enter, typed):
    sent = {"new-devices-name": "cam", "new-devices-ipv6_address": typed}
    response = enter(people["editor"]).post("/at/larkfield/mill/add/devices", sent)
    assert response.status_code == 422 and b"Give an IPv6 address" in response.content


# -- looked up ---------------------------------------------------------------------------------------


@pytest.fixture
def machines(core, add):
    add("host", name="mill-h1", network_id=core.pk, address="10.44.1.11", mac="00:00:5e:00:53:0b")
    add(
        "device",
        name="printer-1",
        network_id=core.pk,
        address="10.44.1.60",
        mac="00:00:5e:00:53:3c",
    )


@pytest.mark.parametrize(
    ("typed", "there", "gone"),
    [
        ("printer", "printer-1", "mill-h1"),
        ("10.44.1.11", "mill-h1", "printer-1"),
        ("00-00-5E-00-53-3C", "printer-1", "mill-h1"),
        ("10.44.1.0/27", "mill-h1", "printer-1"),
        ("core", "printer-1", "nothing at all"),
    ],
)
def test_a_search_works_with_and_without_script(machines, people, enter, typed, there, gone):
    client = enter(people["reader"])
    whole = (
        client.get(URL, {"q": typed})
        .content.decode()
        .split('<div id="claims">')[1]
        .split("</table>")[0]
    )
    part = client.get(URL + "find", {"q": typed}, headers={"HX-Request": "true"})
    for text in (whole, part.content.decode()):
        assert there in text and gone not in text
    assert "<html" not in part.content.decode() and part.headers["HX-Replace-Url"].startswith(
        URL + "?q="
    )


def test_a_search_says_who_is_at_one_address(machines, people, enter):
    client = enter(people["reader"])
    assert "10.44.1.77 in core (10.44.1.0/24): free" in plain(page(client, "?q=10.44.1.77"))
    assert "No claim has “nobody”" in page(client, "?q=nobody")
    assert client.get(URL + "find", {"q": "x"}).status_code == 302


# -- taken -------------------------------------------------------------------------------------------


def take(client, record, value, field="address", **more):
    sent = {"at": record.anchor, "field": field, "value": value, **more}
    return client.post(URL + "take", sent, follow=True).content.decode()


def test_a_record_without_an_address_takes_the_next_free_one(core, add, people, enter):
    host = add("host", name="mill-h2", network_id=core.pk)
    client = enter(people["editor"])
    assert "Take 10.44.1.11" in plain(page(client))
    assert "10.44.1.11 is taken" in take(client, host, "10.44.1.11")
    host.refresh_from_db()
    assert (host.address, host.edits, host.changed_by) == ("10.44.1.11", 2, people["editor"])
    assert host.history.first().address == "10.44.1.11"


def test_a_clashing_one_takes_another(core, add, people, enter):
    add("host", name="mill-h1", network_id=core.pk, address="10.44.1.11")
    box = add("appliance", name="broker-1", network_id=core.pk, address="10.44.1.11")
    client = enter(people["editor"])
    text = page(client)
    said = plain(text)
    assert (
        "Take 10.44.1.31 for broker-1" in said
        and "for mill-h1" not in said
        and "claimed more than once" in said
    )
    take(client, box, "10.44.1.31")
    assert Appliance.objects.get(pk=box.pk).address == "10.44.1.31"


def test_an_address_that_somebody_took_meanwhile_is_not_taken_twice(core, add, people, enter):
    first, second = (add("host", name=f"mill-h{n}", network_id=core.pk) for n in (1, 2))
    client = enter(people["editor"])
    take(client, first, "10.44.1.11")
    text = take(client, second, "10.44.1.11", asked="q=mill", back="missing")
    assert "10.44.1.11 was taken" in text and "10.44.1.12" in text and 'value="mill"' in text
    assert Host.objects.get(pk=second.pk).address == ""


@pytest.mark.parametrize(
    ("at", "field"),
    [("host-999", "address"), ("x-1", "address"), ("", ""), ("host-1x", ""), ("site-1", "name")],
)
def test_nothing_else_can_be_set_that_way(core, add, people, enter, at, field):
    host = add("host", name="mill-h1", network_id=core.pk)
    client = enter(people["editor"])
    client.post(URL + "take", {"at": at, "field": field, "value": "10.44.1.11"})
    client.post(URL + "take", {"at": host.anchor, "field": "name", "value": "10.44.1.11"})
    client.post(URL + "take", {"at": host.anchor, "field": "address", "value": "10.44.1.99"})
    host.refresh_from_db()
    assert (host.name, host.address, host.edits) == ("mill-h1", "", 1)


# -- laid out ----------------------------------------------------------------------------------------


@pytest.fixture
def waiting(core, add):
    return [
        add("host", name="mill-h1", network_id=core.pk),
        add("host", name="mill-h2", network_id=core.pk),
        add("server", name="dc-1", network_id=core.pk),
        add("device", name="homeless"),
    ]


def test_all_missing_addresses_are_shown_and_then_given(waiting, people, enter):
    client = enter(people["editor"])
    text = page(client, path="lay-out")
    said = plain(text)
    assert "mill-h1 core 10.44.1.11 hosts" in said and "homeless : its network is not known" in said
    assert not Host.objects.exclude(address="").exists()
    done = client.post(URL + "lay-out", {"take": tokens(text)}, follow=True).content.decode()
    assert "Addresses given: 3" in done
    facts = read_site(waiting[0].site)
    assert [host.address for host in facts.hosts] == ["10.44.1.11", "10.44.1.12"] and facts.servers[
        0
    ].address == "10.44.1.5"
    assert work_out(facts).addressing.clashes == ()


def test_only_ticked_rows_are_given(waiting, people, enter):
    client = enter(people["editor"])
    second = [
        token
        for token in tokens(page(client, path="lay-out"))
        if token.startswith(waiting[1].anchor)
    ]
    client.post(URL + "lay-out", {"take": second})
    assert [host.address for host in Host.objects.order_by("pk")] == ["", "10.44.1.12"]
    assert client.post(URL + "lay-out").status_code == 422


def test_a_record_that_somebody_changed_meanwhile_stops_all_of_it(waiting, people, enter):
    client = enter(people["editor"])
    chosen = tokens(page(client, path="lay-out"))
    change_record(
        by=people["lead"], kind="host", pk=waiting[1].pk, opened_at=1, values={"model": "two-unit"}
    )
    answer = client.post(URL + "lay-out", {"take": chosen})
    text = answer.content.decode()
    assert (
        answer.status_code == 409
        and "changed mill-h2 meanwhile" in text
        and "Nothing was saved" in text
    )
    assert not Host.objects.exclude(address="").exists()
    assert (
        client.post(URL + "lay-out", {"take": tokens(text)}).status_code == 302
    )  # as it stands now


def test_an_address_given_to_somebody_new_meanwhile_stops_it_too(waiting, add, people, enter):
    client = enter(people["editor"])
    chosen = tokens(page(client, path="lay-out"))
    add("device", name="printer-1", network_id=waiting[0].network_id, address="10.44.1.11")
    answer = client.post(URL + "lay-out", {"take": chosen})
    assert answer.status_code == 409 and b"no longer free" in answer.content
    assert not Host.objects.exclude(address="").exists()


@pytest.mark.parametrize(
    "token", ["host-1|address=10.44.1.99|1", "site-1|name=x|1", "x", "host-0|", "|", "host-٣|a=b|1"]
)
def test_tokens_that_were_never_offered_are_refused(waiting, people, enter, token):
    answer = enter(people["editor"]).post(URL + "lay-out", {"take": [token]})
    assert answer.status_code == 409 and not Host.objects.exclude(address="").exists()


def test_a_reader_may_look_and_not_give(waiting, people, enter):
    text = page(enter(people["reader"]), path="lay-out")
    assert "10.44.1.11" in text and tokens(text) == []


def test_one_record_with_two_missing_fields_is_saved_once(core, add, people, enter):
    add(
        "host",
        name="mill-h1",
        network_id=core.pk,
        address="10.44.1.11",
        out_of_band_address="10.44.1.21",
    )
    host = add("host", name="mill-h2", network_id=core.pk)
    client = enter(people["editor"])
    client.post(URL + "lay-out", {"take": tokens(page(client, path="lay-out"))})
    host.refresh_from_db()
    assert (host.address, host.out_of_band_address, host.edits) == ("10.44.1.12", "10.44.1.22", 2)


# -- carved ------------------------------------------------------------------------------------------


def test_subnets_are_carved_without_saving_and_then_used(core, add, people, enter):
    desks, lan = add("network", name="desks"), add("network", name="lan")
    client = enter(people["editor"])
    query = f"?within=10.44.0.0/22&growth=50&n-{desks.pk}=80&n-{lan.pk}=20&more=guests,%2060"
    text = page(client, query, "carve")
    said = plain(text)
    assert "desks 80 120 10.44.0.0/25 126 5" in said and "lan 20 30 10.44.0.192/27 30" not in said
    # lan: 30 grown and a gateway are 31, one more than a /27 has; guests: 90 and one need a /25
    assert (
        "lan 20 30 10.44.2.0/26 62 31" in said
        and "guests not recorded 60 90 10.44.0.128/25 126 35" in said
    )
    assert (
        "10.44.1.0/24 core" in said
        and not Network.objects.filter(pk=desks.pk).exclude(cidr="").exists()
    )
    assert client.post(URL + "carve" + query, {"take": tokens(text)}).status_code == 302
    assert [Network.objects.get(pk=one.pk).cidr for one in (desks, lan)] == [
        "10.44.0.0/25",
        "10.44.2.0/26",
    ]
    assert work_out(read_site(desks.site)).addressing.overlaps == ()


def test_carving_begins_with_what_the_plan_says(core, add, people, enter):
    lan = add("network", name="lan")
    add("seatgroup", name="Reception", people=40, network_id=lan.pk)
    text = page(enter(people["reader"]), path="carve")
    assert (
        'value="10.44.0.0/16"' in text
        and f'name="n-{lan.pk}" value="40"' in text
        and "lan 40 60 10.44.0.0/26" in plain(text)
    )


def test_what_does_not_fit_is_said(core, add, people, enter):
    lan = add("network", name="lan")
    said = plain(
        page(enter(people["reader"]), f"?within=10.50.0.0/26&growth=0&n-{lan.pk}=100", "carve")
    )
    assert "does not fit" in said and "would have to be a /25 at least" in said


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("?within=10.44.0.0", "Give a subnet with its prefix length"),
        ("?growth=lots", "is not a number"),
        ("?more=guests", "give a name, a comma and how many"),
        ("?more=" + "a,1%0A" * 201, "at most 200"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(core, people, enter, query, says):
    client = enter(people["reader"])
    for headers in ({}, {"HX-Request": "true"}):
        answer = client.get(URL + "carve" + query, headers=headers)
        assert answer.status_code == 422 and says in answer.content.decode()
        assert ("<html" in answer.content.decode()) is not bool(headers)


def test_a_subnet_that_overlaps_by_now_is_not_used(core, add, people, enter):
    lan = add("network", name="lan")
    client, query = enter(people["editor"]), f"?within=10.50.0.0/16&growth=0&n-{lan.pk}=100"
    chosen = tokens(page(client, query, "carve"))
    add("network", name="other", cidr="10.50.0.0/24")
    assert client.post(URL + "carve" + query, {"take": chosen}).status_code == 409
    assert Network.objects.get(pk=lan.pk).cidr == ""


# -- ranges ------------------------------------------------------------------------------------------


def test_a_range_and_a_lease_are_shown_and_used(add, people, enter):
    desks = add(
        "network",
        name="desks",
        purpose="desktops",
        cidr="10.44.2.0/24",
        gateway="10.44.2.1",
        other_dhcp_clients=0,
    )
    template = add(
        "template", name="front desk", network_id=desks.pk, most=40, reset_rule="sign-out"
    )
    add("seatgroup", name="all", template_id=template.pk, people=40, sign_ins_a_day=2.0)
    client = enter(people["editor"])
    text = page(client, path="ranges")
    assert "desks 10.44.2.0/24 10.44.2.100 to 10.44.2.254 155 120 20 h" in plain(text)
    assert client.post(URL + "ranges", {"take": tokens(text)}).status_code == 302
    desks.refresh_from_db()
    assert (desks.dhcp, desks.dhcp_first, desks.dhcp_last, desks.lease_minutes) == (
        "range",
        "10.44.2.100",
        "10.44.2.254",
        1200,
    )
    assert "nothing: it stands already" in page(client, path="ranges")


# -- joined sites ------------------------------------------------------------------------------------


@pytest.fixture
def far(customer, staff, add):
    made = make_site(
        by=staff, customer=customer, code="harbour", name="Harbour Lane", purpose="live"
    )
    add("network", at=made, name="desktops", purpose="desktops", cidr="10.44.1.128/25")
    return made


def join(by, site, *others):
    now = Site.objects.get(pk=site.pk)
    values = {"joined": [other.pk for other in others]}
    change_record(by=by, kind="site", pk=site.pk, opened_at=now.edits, values=values)
    return Site.objects.select_related("customer").get(pk=site.pk)


def test_a_link_is_known_at_both_ends(site, far, people):
    join(people["lead"], site, far)
    far.refresh_from_db()
    assert (far.joined, far.edits, far.changed_by) == ([site.pk], 2, people["lead"])
    join(people["lead"], far)
    site.refresh_from_db()
    assert site.joined == [] and site.history.count() == 3


def test_networks_of_joined_sites_that_overlap_are_noted(site, far, core, people, enter):
    near = join(people["lead"], site, far)
    facts = read_site(near)
    assert [(one.name, [network.cidr for network in one.networks]) for one in facts.neighbours] == [
        ("Harbour Lane", ["10.44.1.128/25"])
    ]
    [found] = [
        one for one in work_out(facts).review.findings if one.key == "joined-networks-overlap"
    ]
    assert (
        found.at.anchor == core.anchor and "desktops (10.44.1.128/25) of Harbour Lane" in found.text
    )
    client = enter(people["reader"])
    assert (
        "overlaps at a joined site" in client.get("/at/larkfield/mill/networks/").content.decode()
    )
    assert "Harbour Lane" in page(client) and "10.44.1.128/25 desktops, at Harbour Lane" in plain(
        page(client, path="carve")
    )


def test_a_site_without_networks_has_its_name_and_a_removed_one_is_gone(
    site, customer, staff, people
):
    bare = make_site(by=staff, customer=customer, code="barn", name="")
    near = join(people["lead"], site, bare)
    assert [(one.name, one.networks) for one in read_site(near).neighbours] == [("barn", ())]
    bare.refresh_from_db()
    remove_site(by=staff, site=bare)
    facts = read_site(near)
    assert facts.neighbours == () and facts.site.joined == ()


def test_a_copy_has_no_links_of_its_own(site, far, people):
    near = join(people["lead"], site, far)
    made = copy_site(
        by=people["lead"],
        source=near,
        customer=near.customer,
        name="Copy",
        code="copy",
        with_addresses=True,
    )
    far.refresh_from_db()
    assert made.joined == [] and far.joined == [site.pk]


def test_the_form_offers_the_customers_other_sites(site, far, people, enter):
    client = enter(people["editor"])
    text = client.get(f"/at/larkfield/mill/brief/?edit=site:{site.pk}").content.decode()
    assert "Joined by a link to" in text and "Harbour Lane" in text
    outside = make_site(
        by=people["staff"],
        customer=people["outsider"].memberships.get().customer,
        code="x",
        name="Elsewhere",
    )
    assert "Elsewhere" not in text
    typed = {
        "edits": site.edits,
        "name": "Mill Street",
        "code": "mill",
        "purpose": "live",
        "paper": "A4",
    }
    sent = {f"site-{site.pk}-{name}": value for name, value in typed.items()}
    for chosen, status in ((outside.pk, 422), (far.pk, 302)):
        answer = client.post(
            f"/at/larkfield/mill/change/site/{site.pk}", {**sent, f"site-{site.pk}-joined": chosen}
        )
        assert answer.status_code == status
    site.refresh_from_db()
    assert (
        site.joined == [far.pk]
        and "Harbour Lane" in client.get("/at/larkfield/mill/brief/").content.decode()
    )


def test_a_link_costs_one_query_however_much_is_there(site, far, add, people):
    with CaptureQueriesContext(connection) as without:
        read_site(site)
    near = join(people["lead"], site, far)
    with CaptureQueriesContext(connection) as one:
        read_site(near)
    for n in range(12):
        add("network", at=far, name=f"n{n}", cidr=f"10.60.{n}.0/24")
    with CaptureQueriesContext(connection) as many:
        read_site(near)
    assert len(without) + 1 == len(one) == len(many) <= 25


def test_the_other_sites_plan_does_not_move_the_fingerprint(site, far, add, people):
    near = join(people["lead"], site, far)
    before = work_out(read_site(near)).fingerprint
    add("network", at=far, name="new", cidr="10.99.0.0/24")
    assert work_out(read_site(near)).fingerprint == before
