"""The gate before heavy papers: one at a time, first come first served, and nobody holds a thread."""

import html
import re
import threading
import time

import pytest
from django.urls import reverse

from sites.web import gate
from sites.web.gate import Gate

HEAVY = ("print/build-book.pdf", "print/handover.zip", "print/workbook.xlsx")


@pytest.fixture
def taken(monkeypatch):
    """A gate through which somebody has gone; nobody is kept standing."""
    found = Gate(standing=0.0, forgotten=60.0)
    assert found.enter((0.0, "somebody"))
    monkeypatch.setattr(gate, "GATE", found)
    return found


def again(response) -> str:
    return html.unescape(
        re.search(r'http-equiv="refresh" content="2;url=([^"]+)"', response.content.decode())[1]
    )


@pytest.mark.parametrize("paper", HEAVY)
def test_who_comes_meanwhile_waits_on_a_page_and_gets_the_paper(taken, paper, site, people, enter):
    client = enter(people["reader"])
    url = f"/at/larkfield/mill/{paper}"
    waits = client.get(url, headers={"accept": "text/html"})
    assert (
        waits.status_code == 202
        and waits["Retry-After"] == "2"
        and waits["Cache-Control"] == "private, no-store"
    )
    assert b"Your paper will be made in a moment" in waits.content
    assert client.get(again(waits), headers={"accept": "text/html"}).status_code == 202
    taken.leave()
    response = client.get(again(waits))
    assert response.status_code == 200 and "attachment" in response["Content-Disposition"]
    assert taken.enter((1.0, "the next")), "whoever got a paper has left the gate"


def test_a_program_is_told_by_status(taken, site, people, enter):
    client = enter(people["reader"])
    response = client.get(f"/at/larkfield/mill/{HEAVY[0]}", headers={"accept": "application/pdf"})
    assert response.status_code == 503 and response["Retry-After"] == "2"
    address = response.content.decode().split()[-1]
    taken.leave()
    assert client.get(address).content.startswith(b"%PDF-")


@pytest.mark.parametrize("told", ["*/*", "application/pdf, */*;q=0.8", ""])
def test_a_program_that_takes_anything_gets_no_page_as_its_paper(told, taken, site, people, enter):
    client = enter(people["reader"])
    response = client.get(f"/at/larkfield/mill/{HEAVY[0]}", headers={"accept": told})
    assert response.status_code == 503 and response["Retry-After"] == "2"
    assert response["Content-Type"].startswith("text/plain")


def test_a_browser_gets_the_page(taken, site, people, enter):
    client = enter(people["reader"])
    told = "application/xhtml+xml,application/xml;q=0.9,Text/HTML;q=0.8,*/*;q=0.8"
    response = client.get(f"/at/larkfield/mill/{HEAVY[0]}", headers={"accept": told})
    assert response.status_code == 202 and response["Content-Type"].startswith("text/html")


def test_a_ticket_leads_to_one_paper(taken, site, people, enter):
    client = enter(people["reader"])
    waits = client.get(f"/at/larkfield/mill/{HEAVY[2]}", headers={"accept": "text/html"})
    ticket = again(waits)
    taken.leave()
    assert client.get(ticket).status_code == 200
    assert taken.enter((time.time(), "somebody who came after"))
    waits = client.get(ticket, headers={"accept": "text/html"})
    assert waits.status_code == 202
    assert again(waits) != ticket, "it has had its paper, and stands at the end of the line"


def test_what_was_asked_for_stays_asked_for(taken, site, staff, enter):
    waits = enter(staff).get(
        f"/at/larkfield/mill/{HEAVY[0]}?part=network", headers={"accept": "text/html"}
    )
    assert "part=network" in again(waits)


def test_a_ticket_that_nobody_drew_counts_as_none(taken, site, people, enter):
    client = enter(people["reader"])
    for forged in ("nonsense", "0.5:nobody", "WzEuMCwibWUiXQ:forged"):
        waits = client.get(
            f"/at/larkfield/mill/{HEAVY[0]}", {"waiting": forged}, headers={"accept": "text/html"}
        )
        assert forged not in again(waits)


def test_a_paper_that_fails_does_not_shut_the_gate(monkeypatch, site, people, enter):
    found = Gate()
    monkeypatch.setattr(gate, "GATE", found)
    monkeypatch.setattr("sites.views.prints.PRESS", None)
    client = enter(people["reader"])
    client.raise_request_exception = False
    assert client.get(f"/at/larkfield/mill/{HEAVY[0]}").status_code == 500
    assert found.enter((1.0, "the next"))


def test_light_papers_do_not_wait(taken, site, people, enter):
    client = enter(people["reader"])
    for name, ending in (("allocation-sheet", "xlsx"), ("port-sheet", "csv")):
        assert (
            client.get(reverse("sheet", args=["larkfield", "mill", name, ending])).status_code
            == 200
        )


def test_first_come_first_served_in_whatever_order_they_ask_again():
    found = Gate(standing=0.0, forgotten=60.0)
    assert found.enter((0.0, "busy"))
    tickets = [(float(number), "one") for number in range(1, 11)]
    for one in reversed(tickets):
        assert not found.enter(one)
    served = []
    while len(served) < 10:
        found.leave()
        for one in reversed(tickets):  # the last always asks first
            if one not in served and found.enter(one):
                served.append(one)
    assert served == tickets


def test_who_went_away_is_not_waited_for():
    now = [0.0]
    found = Gate(standing=0.0, forgotten=60.0, clock=lambda: now[0])
    assert found.enter((0.0, "busy"))
    assert not found.enter((1.0, "goes away"))
    found.leave()
    assert not found.enter((2.0, "stays"))
    now[0] += 61.0
    assert found.enter((2.0, "stays"))


def test_only_the_first_in_line_is_kept_standing():
    found = Gate(standing=5.0, forgotten=60.0)
    assert found.enter((0.0, "busy"))
    got: dict[str, bool] = {}

    def stand(ticket):
        got[ticket[1]] = found.enter(ticket)

    younger = threading.Thread(target=stand, args=((2.0, "younger"),))
    younger.start()
    time.sleep(0.05)
    older = threading.Thread(target=stand, args=((1.0, "older"),))
    older.start()
    younger.join(2)
    assert got == {"younger": False}, "the older takes the younger one's place, who comes again"
    found.leave()
    older.join(2)
    assert got["older"]
