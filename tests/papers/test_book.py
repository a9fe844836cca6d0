"""The build book as a PDF, read back with pypdf."""

from __future__ import annotations

import dataclasses
import datetime as dt
import io
import itertools
import re

import pypdf
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from reportlab.pdfbase import pdfmetrics

from planner.papers.book import PARTS, Issue, build_book, document, ink, pictures
from planner.papers.book.bands import Band, Flow, Pile
from planner.papers.book.look import CELL, LEFT, RIGHT, TEXT, sheet
from planner.papers.book.moments import show_moment
from planner.papers.book.words import clean, lines
from planner.papers.drawings.shapes import Drawing, Rect
from planner.plan import Plan
from planner.record import chapters
from planner.record import facts as f
from tests.factories import make, site_facts

PRINTED = dt.date(2027, 1, 12)
SITE_URL = "https://plan.example.org/at/larkfield/mill/"
MOMENT = dt.datetime(2027, 1, 14, 9, 42, tzinfo=dt.UTC)


def one_of_each() -> list[f.Record]:
    """A small site with at least one record of every kind; two things claim 10.44.1.11."""
    net = make(
        f.Network,
        name="management",
        purpose="management",
        vlan=1234,
        cidr="10.44.1.0/24",
        gateway="10.44.1.1",
        dhcp="none",
    )
    desks = make(
        f.Network,
        name="desktops",
        purpose="desktops",
        vlan=40,
        cidr="10.44.4.0/24",
        gateway="10.44.4.1",
        dhcp="range",
        dhcp_first="10.44.4.100",
        dhcp_last="10.44.4.240",
        lease_minutes=1440,
        note="The old switch in the cellar.",
    )
    host = make(
        f.Host,
        name="mill-h1",
        state="existing",
        sockets=2,
        cores_per_socket=8,
        memory_gib=96,
        network_id=net.id,
        address="10.44.1.11",
        weight_kg=28,
        hypervisor="release 8.2",
        rated_watts=750,
    )
    store = make(
        f.Datastore,
        name="h1-local",
        sharing="local",
        host_id=host.id,
        raid="10",
        disks=4,
        disk_gb=960,
    )
    protocol = make(f.Protocol, name="RDP", tcp_port=3389, udp_port=3389)
    image = make(
        f.Image,
        name="office",
        disk_gib=80,
        used_gib=46,
        operating_system="desktop system, release 2",
    )
    template = make(
        f.Template,
        name="front desk",
        image_id=image.id,
        network_id=desks.id,
        memory_gib=4,
        vcpu=2,
        most=12,
        standby=2,
        reset_rule="sign-out",
        name_prefix="mill-fd-",
        name_digits=3,
        growth_gib=6,
        protocol_id=protocol.id,
    )
    return [
        f.Site(
            id=1,
            name="Mill Street",
            code="mill",
            purpose="live",
            time_zone="Europe/Vienna",
            people_count=36,
            on_site_date=dt.date(2027, 1, 14),
            go_live_date=dt.date(2027, 1, 18),
            scope="Desktops for 36 people.",
            street_address="12 Mill Street\nLarkfield",
        ),
        f.Directory(
            id=1, directory_kind="domain", domain="corp.larkfield.example", netbios="LARKFIELD"
        ),
        f.Service(
            id=1,
            name="Mill Street desktops",
            entry_name="desk.larkfield.example",
            address="10.44.1.30",
        ),
        net,
        desks,
        host,
        store,
        protocol,
        image,
        template,
        make(f.Contact, name="Ж. Ωmega-Ørsted", role="keys", phone="+43 1 555 0101"),
        make(
            f.Device,
            name="printer-1",
            network_id=desks.id,
            address="10.44.4.60",
            mac="00:00:5e:00:53:3c",
        ),
        make(
            f.Server,
            name="dc-1",
            network_id=net.id,
            address="10.44.1.5",
            roles=("directory", "dns"),
        ),
        make(
            f.Appliance,
            name="broker-1",
            host_id=host.id,
            network_id=net.id,
            address="10.44.1.11",
            memory_gib=8,
        ),
        make(
            f.Credential,
            name="hypervisor administrator",
            account="root",
            where_kept="sealed envelope 3",
        ),
        make(
            f.Application,
            name="practice records",
            image_id=image.id,
            licensed_by="at-once",
            licences_held=30,
        ),
        make(
            f.SeatGroup,
            name="Reception",
            template_id=template.id,
            people=24,
            share_at_once=0.8,
            network_id=net.id,
        ),
        make(
            f.OwnFlow,
            name="records to their database",
            from_what="desktops",
            to_what="records-db",
            ports="5432",
        ),
        make(
            f.OwnCheck,
            name="The chair keeps its own network",
            stage=2,
            why="It stops when its switch restarts.",
        ),
        make(
            f.Built,
            target=host.ref.anchor,
            field="address",
            value="10.44.1.13",
            reason="it answered already",
        ),
    ]


def full_facts() -> f.SiteFacts:
    """One of each, with answers of every kind, a signed gate, an accepted finding."""
    facts = site_facts(*one_of_each())
    plan = Plan(facts)
    states = ("proven", "trust", "excused", "failed", "open")
    answers = [
        f.Answer(check=key, state=state, by="T. Holt", at=MOMENT, proof=f"seen: {state} {at}")
        for at, (key, state) in enumerate(
            zip(plan.stages.checks, itertools.cycle(states), strict=False)
        )
    ]
    accepted = f.Acceptance(
        finding=plan.review.findings[0].token,
        reason="We order it in March.",
        look_again=dt.date(2027, 3, 31),
        by="R. Lind",
        at=MOMENT,
    )
    signed = f.Signature(stage=1, by="R. Lind", at=MOMENT, fingerprint="0000-0000")
    return dataclasses.replace(
        facts, answers=tuple(answers), acceptances=(accepted,), signatures=(signed,)
    )


def before(facts: f.SiteFacts) -> f.SiteFacts:
    """The plan as it was in the revision before: less memory, and a printer less."""
    hosts = tuple(dataclasses.replace(one, memory_gib=64) for one in facts.hosts)
    return dataclasses.replace(facts, hosts=hosts, devices=())


def built(facts: f.SiteFacts, **kwds) -> pypdf.PdfReader:
    given_words = {"printed_on": PRINTED, "printed_by": "T. Holt", **kwds}
    return pypdf.PdfReader(io.BytesIO(build_book(Plan(facts), **given_words)))


def text_of(reader: pypdf.PdfReader) -> list[str]:
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def told(reader: pypdf.PdfReader, first: str, then: str) -> str:
    """What stands between two titles of the outline; only those pages are read."""
    starts = {
        entry.title: reader.get_destination_page_number(entry)
        for _, entry in entries(reader.outline)
    }
    pages = [reader.pages[at].extract_text() for at in range(starts[first], starts[then] + 1)]
    text = f" {' '.join(' '.join(pages).split())} "
    return text.split(f" {first} ", 1)[1].split(f" {then} ")[0]


@pytest.fixture(scope="module")
def facts() -> f.SiteFacts:
    return full_facts()


@pytest.fixture(scope="module")
def book(facts) -> pypdf.PdfReader:
    return built(
        facts,
        revision_letter="C",
        reason="Second host in the left rack.",
        issued_on=dt.date(2027, 1, 11),
        issued_by="R. Lind",
        house="Northgate IT",
        revisions=[
            Issue(
                name="B",
                fingerprint="1111-2222",
                on=dt.date(2026, 12, 1),
                by="R. Lind",
                reason="First.",
            )
        ],
        papers=[Issue(name="Allocation sheet", fingerprint="1111-2222", letter="B")],
        previous=before(facts),
        previous_letter="B",
        site_url=SITE_URL,
    )


@pytest.fixture(scope="module")
def pages(book) -> list[str]:
    return text_of(book)


@pytest.fixture(scope="module")
def empty() -> pypdf.PdfReader:
    return built(f.SiteFacts(today=PRINTED, site=f.Site()))


@pytest.fixture(scope="module")
def empty_pages(empty) -> list[str]:
    return text_of(empty)


def entries(outline, level=0):
    """(level, entry) of an outline as pypdf gives it: nested lists."""
    for one in outline:
        if isinstance(one, list):
            yield from entries(one, level + 1)
        else:
            yield level, one


# -- every page ----------------------------------------------------------------------------------


def test_every_page_says_whose_it_is_and_which_plan(book, pages, facts):
    code = f.fingerprint(facts)
    for number, page in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in page
        assert f"Revision C Fingerprint {code} printed Tue 12 Jan 2027" in page
        if number > 1:
            assert "Larkfield Vets · Mill Street" in page


def test_the_head_of_a_page_names_every_chapter_on_it(book, pages):
    starts: dict[int, list[str]] = {}
    for level, entry in entries(book.outline):
        if level == 0:
            starts.setdefault(book.get_destination_page_number(entry), []).append(entry.title)
    assert any(len(titles) > 1 for titles in starts.values())  # short chapters share a page
    for page, titles in starts.items():
        head = pages[page].split("Larkfield Vets · Mill Street ", 1)[1].split(" Revision C ")[0]
        assert titles[-1] in head and (len(titles) > 2 or all(title in head for title in titles)), (
            titles
        )


def test_a_draft_says_so_on_every_page(empty_pages):
    for page in empty_pages:
        assert "Draft, not a revision" in page
        assert "Revision C" not in page


def test_the_file_describes_itself(book, facts):
    assert book.metadata.title == "Build book: Larkfield Vets, Mill Street"
    assert book.metadata.author == "Northgate IT"
    assert f.fingerprint(facts) in book.metadata.subject and "Revision C" in book.metadata.subject
    assert f.fingerprint(facts) in book.metadata.keywords
    assert book.metadata.creation_date.date() == PRINTED
    assert book.root_object["/Lang"] == "en"
    assert book.root_object["/PageMode"] == "/UseOutlines"


def test_page_labels_are_the_numbers_at_the_foot(book):
    assert book.page_labels == ["Cover", *(str(number) for number in range(2, len(book.pages) + 1))]


def test_nothing_is_coloured(book):
    """Source: ISO 32000-1, 8.6.8: rg and RG set a colour by its red, green and blue, k and K by four inks."""
    seen = 0
    for page in book.pages:
        streams = [page.get_contents()]
        objects = page["/Resources"].get("/XObject", {})
        streams += [
            one.get_object() for one in objects.values() if one.get_object()["/Subtype"] == "/Form"
        ]
        for stream in streams:
            for operands, operator in pypdf.generic.ContentStream(stream, book).operations:
                if operator in (b"rg", b"RG"):
                    seen += 1
                    assert len({float(one) for one in operands}) == 1, operands
                assert operator not in (b"k", b"K", b"sc", b"scn", b"SCN", b"SC")
    assert seen > 100  # the drawings


def test_without_a_house_the_author_is_the_customer():
    assert built(site_facts()).metadata.author == "Larkfield Vets"


@pytest.mark.parametrize(
    ("paper", "wide", "high"),
    # Source: ISO 216 (A4 is 210 × 297 mm); ANSI/ASME Y14.1 (A, "Letter", is 8.5 × 11 in); 72 points an inch
    [
        ("A4", 210 / 25.4 * 72, 297 / 25.4 * 72),
        ("Letter", 612, 792),
        ("", 210 / 25.4 * 72, 297 / 25.4 * 72),
    ],
)
def test_the_paper_is_the_site_s_own(paper, wide, high):
    for page in built(site_facts(f.Site(id=1, name="Mill Street", paper=paper))).pages:
        assert float(page.mediabox.width) == pytest.approx(wide, abs=0.01)
        assert float(page.mediabox.height) == pytest.approx(high, abs=0.01)


def test_every_font_is_embedded_and_can_be_searched(book):
    seen = {}
    for page in book.pages:
        for name, font in page["/Resources"]["/Font"].items():
            seen[name] = font.get_object()
    assert {str(font["/BaseFont"]).split("+")[1] for font in seen.values()} >= {
        "SourceSansPro-Regular",
        "SourceSansPro-Semibold",
        "SourceSerifPro-Semibold",
    }
    for font in seen.values():
        assert "/FontFile2" in font["/FontDescriptor"], font["/BaseFont"]
        assert "/ToUnicode" in font


def test_equal_input_gives_equal_bytes():
    plan = Plan(site_facts(*one_of_each()))
    again = Plan(plan.facts)
    assert build_book(plan, printed_on=PRINTED) == build_book(again, printed_on=PRINTED)


# -- outline and contents ------------------------------------------------------------------------


def test_the_outline_has_every_chapter_and_section_by_the_screen_s_number(book, pages):
    found = [(level, entry.title) for level, entry in entries(book.outline)]
    titles = [title for level, title in found if level == 0]
    assert titles[:3] == ["Contents", "Read first", "0 Customer"]
    assert titles[3:14] == [f"{one.number} {one.name}" for one in chapters.CHAPTERS]
    sections = [title for level, title in found if level == 1]
    for one in chapters.SECTIONS:
        assert f"{one.number} {one.title}" in sections
    for stage in Plan(site_facts()).stages.stages:
        assert f"10.{stage.number} {stage.name}" in sections
    for _, entry in entries(book.outline):
        assert entry.title in pages[book.get_destination_page_number(entry)]


def test_the_contents_give_the_pages_where_things_stand(book):
    places = {
        entry.title: book.get_destination_page_number(entry) + 1
        for _, entry in entries(book.outline)
    }
    del places["Contents"]
    told = " ".join(book.pages[1].extract_text().split())
    for title, page in places.items():
        assert re.findall(rf"(?<![\d.]){re.escape(title)} (\d+)(?= |$)", told) == [str(page)], title


def test_the_contents_are_links(book):
    places = sorted(
        book.get_destination_page_number(entry)
        for _, entry in entries(book.outline)
        if entry.title != "Contents"
    )
    links = [note.get_object() for note in book.pages[1]["/Annots"]]
    assert sorted(book.get_page_number(link["/Dest"][0].get_object()) for link in links) == places


def test_each_stage_begins_a_new_page(book, pages):
    starts = [
        book.get_destination_page_number(one)
        for _, one in entries(book.outline)
        if one.title.startswith("10.")
    ]
    of_stages = starts[:9]  # the eight stages, then what this site adds, together on one page
    assert (
        len(starts) == 11
        and len(set(of_stages)) == 9
        and set(starts[9:]) <= {of_stages[-1], of_stages[-1] + 1}
    )


# -- what stands in it ---------------------------------------------------------------------------


def test_the_cover_says_what_one_must_know(pages, facts):
    for words in (
        "Larkfield Vets",
        "Mill Street",
        "Live",
        "Revision C",
        "Second host in the left rack.",
        "Thu 14 Jan 2027",
        "Mon 18 Jan 2027",
        "Mon 11 Jan 2027, by R. Lind",
        "Tue 12 Jan 2027, by T. Holt",
        "How to use this book",
    ):
        assert words in pages[0], words
    assert f.fingerprint(facts) in pages[0].replace(" ", "")


def test_values_stand_in_their_chapters(book, pages):
    starts = {one.title: book.get_destination_page_number(one) for _, one in entries(book.outline)}

    def between(first: str, then: str) -> str:
        return " ".join(pages[starts[first] : starts[then] + 1])

    assert "12 Mill Street Larkfield" in between("1 Brief", "2 Networks")
    networks = between("2 Networks", "3 Hosts")
    assert "1234" in networks and "1,234" not in networks  # a VLAN is a name, not a number
    assert "Lease time 1 day" in networks and "The old switch in the cellar." in networks
    assert "Weight 28 kg" in between("3 Hosts", "4 Directory")
    assert "Built: Management address 10.44.1.13 it answered already" in between(
        "3 Hosts", "4 Directory"
    )
    assert "3389" in between("5 Service", "6 Images")
    capacity = between("8 Capacity", "9 Addresses and ports")
    load = Plan(FULL).placement.hosts[0]
    assert f"mill-h1 96 {load.own_gib:.1f} 8" in capacity and "12 of front desk" in capacity
    sheets = between("9 Addresses and ports", "10 Stages")
    assert "front desk mill-fd-001 mill-fd-012 12 999" in sheets
    assert "00:00:5e:00:53:3c" in sheets and "3389/TCP" in sheets and "ms-wbt-server" in sheets
    assert "10.44.1.13" in between("11.3 Built values", "11.4 What changed since revision B")
    assert "1111-2222" in between("11.1 Revisions", "11.2 Papers printed")
    assert "Allocation sheet B" in between("11.2 Papers printed", "11.3 Built values")


def test_other_alphabets_are_printed(pages):
    assert any("Ж. Ωmega-Ørsted" in page for page in pages)


def test_every_finding_is_printed_with_its_reason(facts, pages):
    whole = " ".join(pages)
    findings = Plan(facts).review.findings
    assert len(findings) > 10
    for finding in findings:
        for words in (finding.title, finding.text, finding.why):
            assert " ".join(words.split()) in whole


def test_a_finding_s_mark_stands_at_its_value(facts, pages):
    twice = next(one for one in Plan(facts).review.findings if "claimed twice" in one.title)
    note = next(page for page in pages if page.count(twice.title) and twice.why in page)
    number = note.split(twice.title)[0].split(twice.mark)[-1].strip()
    assert any(
        f"10.44.1.11 {twice.mark} {number}" in page or f"10.44.1.11 {twice.mark}{number}" in page
        for page in pages
    )


def test_an_accepted_finding_says_who_and_until_when(pages):
    words = "Accepted by R. Lind on Thu 14 Jan 2027, to look again on Wed 31 Mar 2027: We order it in March."
    assert sum(words in page for page in pages) == 2  # at the note, and in 11.6


def test_run_sheets_carry_steps_checks_cautions_and_answers(facts, pages):
    whole = " ".join(pages)
    stages = Plan(facts).stages
    for one in (*stages.checks.values(), *stages.steps.values()):
        assert " ".join(one.title.split()) in whole, one.key
        assert one.number in whole
        if one.caution:
            assert f"Caution: {one.caution}" in whole
    assert "Proven by T. Holt, Thu 14 Jan 2027, 10:42: seen: proven 0" in whole
    for word in ("On trust by", "Excused by", "Failed by"):
        assert f"{word} T. Holt, Thu 14 Jan 2027, 10:42" in whole
    assert "Last signed by R. Lind, Thu 14 Jan 2027, 10:42, fingerprint 0000-0000." in whole
    assert "Signature of a lead" in whole


def test_what_to_enter_stands_large(book):
    sizes = {}

    def seen(text, matrix, transform, font, size):
        sizes.setdefault(text.strip(), size)

    starts = {
        entry.title: book.get_destination_page_number(entry) for _, entry in entries(book.outline)
    }
    for page in book.pages[starts["10.2 Ground"] : starts["10.2 Ground"] + 3]:
        page.extract_text(visitor_text=seen)
    assert sizes["10.44.1.0/24"] > 12


def test_the_cautions_come_before_the_plan(pages):
    assert "licensed electrician decides" in pages[2]
    assert "mill-h1 (28 kg)" in pages[2]


def test_sources_are_listed_once(facts, pages):
    whole = " ".join(pages)
    sources = {finding.source for finding in Plan(facts).review.findings}
    sources |= {flow.citation for flow in Plan(facts).flows.flows}
    appendix = whole.split("A.2 Sources")[-1]
    for source in sources:
        told = appendix.count(f"] {source} [") + appendix.endswith(source)
        if source.startswith(("common practice", "own flow")):
            assert told == 0
        else:
            assert source in appendix and told <= 1


def test_an_empty_site_teaches(empty_pages):
    whole = " ".join(empty_pages)
    for one in chapters.SECTIONS:
        assert f"{one.number} {one.title}" in whole
        if not one.single:
            assert one.what in whole and one.why in whole and one.who in whole
    assert whole.count("Nobody has written this down yet.") >= 20
    assert "not known yet" in whole
    assert "at least 0" not in whole and "not known yet of memory" not in whole


def test_times_are_the_site_s_own():
    # Source: IANA time zone database: Europe/Vienna is UTC+1 in January, UTC+2 in July
    assert show_moment(MOMENT, "Europe/Vienna") == "Thu 14 Jan 2027, 10:42"
    assert show_moment(MOMENT.replace(month=7), "Europe/Vienna") == "Wed 14 Jul 2027, 11:42"
    assert show_moment(MOMENT, "No/Such zone\0") == "Thu 14 Jan 2027, 09:42"
    assert show_moment(None, "") == ""


# -- whatever people type ------------------------------------------------------------------------

FREE = ("text", "long", "email", "zone")
NASTY = (
    "<b>x</b> & <img>",
    "</para><para>",
    "%(x)s {0} {site.name}",
    "\x00\x01\x1b[31m",
    "日本語のサイト",
    "שלום עולם",
    "😀👩‍🔬",
    "A" * 10_000,
    "word " * 2_000,
    "1\n" * 300,
    "\u202eevil",
    "a\u0301\u0301\u0301",
    "\ufffe\uffff",
    "(\\)",
    "'\"`",
)


def typed(facts: f.SiteFacts, texts) -> f.SiteFacts:
    """Every free text of a site replaced, in turn, by one of ``texts``."""
    supply = itertools.cycle(texts)

    def changed(record: f.Record) -> f.Record:
        names = [
            one.name for one in chapters.fields_of(record.kind).values() if one.kind.word in FREE
        ]
        names += ["value", "reason"] if record.kind == "built" else []
        return dataclasses.replace(
            record, **{name: next(supply) for name in names if name not in ("target", "field")}
        )

    lists = {}
    for name in f.RECORD_FIELDS:
        value = getattr(facts, name)
        lists[name] = tuple(map(changed, value)) if isinstance(value, tuple) else changed(value)
    answers = tuple(
        dataclasses.replace(one, by=next(supply), proof=next(supply)) for one in facts.answers
    )
    accepted = tuple(
        dataclasses.replace(one, by=next(supply), reason=next(supply)) for one in facts.acceptances
    )
    return dataclasses.replace(
        facts,
        customer=next(supply),
        site=changed(facts.site),
        answers=answers,
        acceptances=accepted,
        **lists,
    )


FULL = full_facts()


@settings(max_examples=5, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.lists(st.one_of(st.text(max_size=80), st.sampled_from(NASTY)), min_size=1, max_size=40),
    st.sampled_from([part.slug for part in PARTS]),
)
@example(list(NASTY), "whole")
@example([NASTY[7]], "run-sheets")
@example([NASTY[8]], "network")
@example([NASTY[0]], "customer")
def test_any_text_gives_a_book_that_opens(texts, part):
    data = build_book(
        Plan(typed(FULL, texts)),
        printed_on=PRINTED,
        printed_by=texts[0],
        revision_letter=texts[0],
        reason=texts[-1],
        house=texts[0],
        issued_by=texts[-1],
        papers=[Issue(name=texts[0], fingerprint=texts[-1])],
        parts=part,
        revisions=[Issue(name=texts[0], fingerprint=texts[-1], by=texts[0], reason=texts[0])],
        site_url=f"{SITE_URL}{texts[0]}",
        previous=typed(FULL, texts[::-1]),
        previous_letter=texts[-1],
    )
    reader = pypdf.PdfReader(io.BytesIO(data))
    last = len(reader.pages)
    assert last > {"whole": 40, "run-sheets": 30, "network": 6, "customer": 6}[part]
    assert f"Page {last} of {last}" in reader.pages[-1].extract_text()
    assert list(entries(reader.outline))


def test_markup_is_printed_as_it_was_typed():
    whole = " ".join(text_of(built(typed(FULL, ["<b>x</b> & <img>"]), parts="customer")))
    assert whole.count("<b>x</b> & <img>") > 40
    assert "&amp;" not in whole and "&lt;" not in whole


def test_nothing_is_drawn_outside_the_margins(monkeypatch):
    drawn = []

    class Watched(document.BookCanvas):
        def put_pieces(self, pieces, x, top):
            for piece in pieces:
                right, up = self.absolutePosition(x + piece.x, top - piece.down)
                wide = pdfmetrics.stringWidth(piece.text, piece.style.font, piece.style.size)
                drawn.append((right, right + wide, up, piece.text))
            super().put_pieces(pieces, x, top)

    monkeypatch.setattr(document, "BookCanvas", Watched)
    built(typed(FULL, [*NASTY, "W" * 500, "OU=Desktops,DC=corp," * 20]))
    paper = sheet("A4")
    assert len(drawn) > 2000
    for left, right, up, text in drawn:
        if left >= LEFT:  # page numbers are forms, drawn around their own origin
            assert right <= paper.wide - RIGHT + 0.6, text
            assert 30 < up < paper.high - 30


# -- pages and lines -----------------------------------------------------------------------------


def test_no_page_ends_with_what_belongs_to_the_next(monkeypatch):
    ends: dict[int, Band] = {}  # a page may hold several piles: the last one ends it
    draw = Pile.draw

    def watched(self):
        ends[self.canv.getPageNumber()] = self.bands[-1]
        draw(self)

    monkeypatch.setattr(Pile, "draw", watched)
    reader = built(FULL)
    assert len(ends) == len(reader.pages)
    assert not [band for band in ends.values() if band.keep]


@given(
    st.lists(
        st.tuples(st.floats(1, 120), st.booleans(), st.sampled_from(["", "gap", "again"])),
        min_size=1,
        max_size=120,
    )
)
def test_piles_break_without_losing_a_band(rows):
    """Every band but white is drawn once and in order, no page is overfull, heads stand again."""
    head = Band(10, keep=True)
    bands = [
        Band(high, keep=keep, gap=how == "gap", again=(head,) if how == "again" else ())
        for high, keep, how in rows
    ]
    paper = sheet("A4")
    rest, done = Pile(bands, paper), []
    for _ in range(len(bands) + 1):
        if rest.wrap(0, 0)[1] <= paper.room:
            done.append(rest)
            break
        parts = rest.split(0, paper.room)
        done.append(parts[0])
        if len(parts) == 1:
            break
        rest = parts[-1]
    for pile in done:
        assert sum(band.height for band in pile.bands) <= paper.room + 0.1
    for pile in done[1:]:
        assert not pile.bands[0].gap
    drawn = [id(band) for pile in done for band in pile.bands if not band.gap and band is not head]
    assert drawn == [id(band) for band in bands if not band.gap]


@given(st.text(max_size=400), st.floats(8, 400), st.one_of(st.none(), st.floats(0, 400)))
@example("10.44.1.11 " + "x" * 300, 30.0, 3.0)
@example('?"0', 8.0, None)  # the rest behind a cut after a sign was too wide
def test_lines_lose_nothing_and_fit(text, room, first):
    words = clean(text)
    broken = lines(words, room, TEXT, first=first)
    assert "".join(broken).replace(" ", "") == words.replace(" ", "")
    for at, line in enumerate(broken):
        limit = first if at == 0 and first is not None else room
        wide = pdfmetrics.stringWidth(line, TEXT.font, TEXT.size)  # reportlab's own measure
        assert (
            wide <= limit + 0.01
            or len(line) <= 1
            or (at == 0 and first is not None and wide <= room)
        )


def test_a_wide_drawing_is_turned_and_a_high_one_cut():
    """By hand, on A4: 484.7 points wide, 643 high, slices share 26. 800 × 3000 upright at 0.606 is 1818 high:
    (1818 − 26) / (643 − 26) → 3. 1500 × 3000 turned at 0.448 is 1344: (1344 − 26) / (484.7 − 26) → 3. 800 × 1100 is
    667 high, 24 more than a page's 643: drawn at 0.585 it is one slice."""
    paper = sheet("A4")
    sizes = (
        (800, 300, 1),
        (800, 1100, 1),
        (800, 3000, 3),
        (2000, 600, 1),
        (1500, 3000, 3),
        (90_000, 90_000, 2),
    )
    for wide, high, slices in sizes:
        flow = Flow(paper)
        pictures.put(flow, Drawing(wide, high, (Rect(0, 0, wide, high, stroke="ink"),), "", ""))
        bands = [band for band in flow.bands if not band.gap]
        assert len(bands) == slices, (wide, high)
        assert all(band.height <= paper.room for band in bands)


def test_a_cut_text_ends_in_an_ellipsis():
    broken = lines(clean("word " * 50), 60, CELL, most=2)
    assert len(broken) == 2 and broken[-1].endswith("…")
    assert pdfmetrics.stringWidth(broken[-1], CELL.font, CELL.size) <= 60
    assert clean("x" * 100, 10) == "x" * 10 + "…"


def test_a_long_word_breaks_after_a_sign():
    assert lines("OU=Desktops,DC=corp,DC=larkfield,DC=example", 110, TEXT)[0].endswith(",")


def test_quick_strokes_are_reportlab_s_own():
    """The stream written directly draws the same text at the same place as reportlab's calls."""
    from reportlab.pdfgen.canvas import Canvas

    from planner.papers.book.bands import Piece

    def read(draw, kind):
        stream = io.BytesIO()
        canvas = kind(stream, pagesize=(300, 200))
        draw(canvas)
        canvas.save()
        found = []
        page = pypdf.PdfReader(stream).pages[0]
        page.extract_text(
            visitor_text=lambda text, cm, tm, font, size: found.append(
                (text.strip(), tm[4], tm[5], size)
            )
        )
        return [one for one in found if one[0]]

    def theirs(canvas):
        canvas.setFont(TEXT.font, TEXT.size)
        canvas.drawString(30, 120, "Wörk (at) Ж \\")

    quick = read(
        lambda canvas: canvas.put_pieces((Piece(10, 30, "Wörk (at) Ж \\", TEXT),), 20, 150),
        ink.InkCanvas,
    )
    assert quick == read(theirs, Canvas)
