"""The threads of one process share what is read once and what is kept of pure results: nothing gets mixed up.

A fresh process is asked, so that everything is read, registered and loaded for the first time by several at once."""

import os
import pathlib
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = """
import datetime as dt, hashlib, sys, threading
from concurrent.futures import ThreadPoolExecutor
from planner import work_out
from planner.engine.placement.packing.exact import solve
from planner.engine.placement.packing.problem import Bin, Class, Problem, Work
from planner.papers.book import build_book
from tests.papers.demo_facts import demo

sys.setswitchinterval(1e-5)  # threads take turns as often as they can
THREADS, SITES = int(sys.argv[1]), ("mill", "harbour", "workshop", "mill")
together = threading.Barrier(THREADS)


def worked_out(name):
    plan = work_out(demo(name))
    found = hashlib.sha256(build_book(plan, printed_on=dt.date(2027, 1, 12), parts="network"))
    found.update(repr([(one.token, one.title) for one in plan.review.findings]).encode())
    found.update(repr(plan.placement).encode())
    return found.hexdigest()


def solved(number):
    classes = (Class(memory=5 + number, vcpu=2, disk=0, count=20), Class(memory=7, vcpu=4, disk=0, count=20))
    bins = tuple(Bin(memory=61 + 3 * one, vcpu=40) for one in range(4))
    found = solve(Problem(classes=classes, bins=bins), [0, 0], [20, 20], 40, Work(solver_seconds=60.0))
    assert found is not None, "the solver was not asked"
    return repr(found)


def one(number):
    together.wait()
    return [worked_out(SITES[number % 4]), *(solved(number % 4) for _ in range(3))]


with ThreadPoolExecutor(THREADS) as pool:
    for line in pool.map(one, range(4)) if THREADS > 1 else map(one, range(4)):
        print(line)
"""


def said(threads: int) -> str:
    ran = subprocess.run(
        [sys.executable, "-c", PROGRAM, str(threads)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
        env={**os.environ, "DJANGO_SETTINGS_MODULE": "planner.settings", "DESKWRIGHT_DEMO": "yes"},
    )
    assert ran.returncode == 0, ran.stderr
    return ran.stdout


def test_four_at_once_find_what_one_finds_alone():
    assert said(4) == said(1)
