"""The what-if panel: tried without saving, kept or left."""

import pytest

from planner.comparing import whatif
from sites.actions.records import add_record
from sites.models import Datastore, Host, Site, Template

PANEL = "/at/larkfield/mill/what-if"


@pytest.fixture
def planned(site, staff):
    """Two hosts with their disks, one template, one seat group."""

    def add(kind, **values):
        return add_record(by=staff, site=site, kind=kind, values=values)

    network = add(
        "network",
        name="desks",
        cidr="10.1.0.0/24",
        dhcp="range",
        dhcp_first="10.1.0.50",
        dhcp_last="10.1.0.99",
        lease_minutes=1440,
    )
    for n in (1, 2):
        host = add(
            "host",
            name=f"mill-h{n}",
            sockets=2,
            cores_per_socket=8,
            memory_gib=96.0,
            address=f"10.1.0.1{n}",
        )
        add(
            "datastore",
            name=f"h{n}-local",
            sharing="local",
            host_id=host.pk,
            raid="10",
            disks=4,
            disk_gb=960.0,
        )
    image = add("image", name="office", used_gib=40.0)
    template = add(
        "template",
        name="desk",
        image_id=image.pk,
        network_id=network.pk,
        memory_gib=4.0,
        vcpu=2,
        most=20,
        standby=2,
        growth_gib=4.0,
        reset_rule="sign-out",
    )
    add("seatgroup", name="all", template_id=template.pk, people=20, share_at_once=0.7)
    return site


def box(planned, kind, name, field):
    model = {"template": Template, "host": Host}[kind]
    return f"{kind}-{model.objects.get(site=planned, name=name).pk}-{field}"


def test_trying_shows_what_moves_and_saves_nothing(planned, people, enter):
    client, most = enter(people["reader"]), box(planned, "template", "desk", "most")
    before = Site.objects.get(pk=planned.pk).counter
    page = client.get(PANEL, {most: "60"}, headers={"HX-Request": "true"}).content.decode()
    assert "Left out with the worst host down" in page and "worse" in page and "<html" not in page
    assert Template.objects.get(site=planned).most == 20
    assert Site.objects.get(pk=planned.pk).counter == before
    assert "Keep this" not in page  # a reader may try, not keep


def test_the_same_values_move_nothing(planned, people, enter):
    page = enter(people["editor"]).get(PANEL, {box(planned, "template", "desk", "most"): "20"})
    assert b"Nothing tried yet" in page.content


def test_units_are_understood_and_nonsense_is_named(planned, people, enter):
    memory = box(planned, "host", "mill-h1", "memory_gib")
    client = enter(people["editor"])
    assert b"What moves" in client.get(PANEL, {memory: "0.125 TiB"}).content
    page = client.get(PANEL, {memory: "plenty"})
    assert (
        page.status_code == 422
        and b"mill-h1, Memory" in page.content
        and b'value="plenty"' in page.content
    )


def test_keeping_saves_like_typing(planned, people, enter):
    client = enter(people["editor"])
    most, more = box(planned, "template", "desk", "most"), box(planned, "host", "mill-h2", "more")
    done = client.post(PANEL + "/keep", {most: "44", more: "1"}, follow=True)
    assert b"Kept: 2 records changed." in done.content
    template = Template.objects.get(site=planned)
    assert (template.most, template.edits, template.changed_by) == (44, 2, people["editor"])
    new = Host.objects.get(site=planned, name="mill-h3")
    assert (new.state, new.memory_gib, new.address, new.made_by) == (
        "to-buy",
        96.0,
        "",
        people["editor"],
    )
    assert Datastore.objects.filter(site=planned, host=new, name="mill-h3 h2-local").count() == 1


def test_keeping_over_somebody_elses_change_saves_nothing(planned, people, enter):
    template = Template.objects.get(site=planned)
    most, standby = f"template-{template.pk}-most", f"template-{template.pk}-standby"
    opened = {f"opened-template-{template.pk}": str(template.edits)}
    client = enter(people["lead"])
    client.post(PANEL + "/keep", {most: "30"})
    page = enter(people["editor"]).post(
        PANEL + "/keep", {most: "40", standby: "5", **opened}, follow=True
    )
    assert b"Nothing was saved" in page.content
    template.refresh_from_db()
    assert (template.most, template.standby) == (30, 2)


def test_a_keep_that_cannot_be_is_refused(planned, people, enter):
    most = box(planned, "template", "desk", "most")
    page = enter(people["editor"]).post(PANEL + "/keep", {most: "-3"}, follow=True)
    assert b"A value cannot be" in page.content and Template.objects.get(site=planned).most == 20


@pytest.mark.parametrize("key", whatif.QUESTIONS)
def test_questions_are_answered_with_a_way_to_try(planned, people, enter, key):
    client = enter(people["reader"])
    page = client.get(f"/at/larkfield/mill/ask/{key}")
    assert page.status_code == 200 and page.context["answer"].text
    if page.context["link"]:
        assert client.get(f"{PANEL}?{page.context['link']}").status_code == 200


def test_a_question_nobody_asks_is_not_found(planned, people, enter):
    assert enter(people["reader"]).get("/at/larkfield/mill/ask/what-is-this").status_code == 404


def test_an_empty_site_says_what_belongs_here(site, people, enter):
    assert b"There is nothing to try yet" in enter(people["reader"]).get(PANEL).content
