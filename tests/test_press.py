"""The press: papers made in a process of its own."""

import os
import signal
import time

import pytest

from planner.papers import making
from planner.plan import Plan
from planner.serving.press import Press, PressError
from tests.papers.demo_facts import demo


@pytest.fixture
def press():
    found = Press()
    yield found
    found.end()


def test_a_book_is_the_same_as_made_here(press):
    import datetime as dt

    ground = making.Ground.of(Plan(demo("mill")))
    edition = {
        "parts": "network",
        "printed_on": dt.date(2027, 1, 12),
        "site_url": "https://plan.example.org/at/x/y/",
    }
    assert press.make(making.book, ground, edition) == making.book(ground, edition)


def test_it_works_elsewhere_and_leaves_the_core_to_others(press):
    assert press.make(os.getpid) not in (os.getpid(), os.getppid())
    assert press.make(os.getpid) == press.make(os.getpid), "it stays for the next paper"
    assert press.make(os.nice, 0) > os.nice(0)


def test_trouble_is_told_and_the_press_goes_on(press):
    with pytest.raises(PressError, match="invalid literal"):
        press.make(int, "no number")
    assert press.make(int, "7") == 7


def test_a_press_that_was_killed_is_started_anew(press):
    os.kill(press.make(os.getpid), signal.SIGKILL)
    assert press.make(int, "7") == 7


def test_a_paper_that_always_kills_its_press_is_given_up(press):
    with pytest.raises(PressError, match="ended twice"):
        press.make(os._exit, 1)


def test_a_paper_without_end_is_stopped(press, monkeypatch):
    press.make(int, "1")  # it is there
    monkeypatch.setattr("planner.serving.press.PATIENCE", 0.2)
    with pytest.raises(PressError, match="was stopped"):
        press.make(time.sleep, 30)


def test_it_ends_with_whoever_started_it(press):
    there = press.make(os.getpid)
    assert press._line is not None
    press._line.close()  # as when this process is killed
    press._process.join(5)
    assert not press._process.is_alive() and there == press._process.pid
