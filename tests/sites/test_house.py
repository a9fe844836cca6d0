"""The architecture, the demo, and the start of the house."""

import ast
import dataclasses
import os
import pathlib
import subprocess
import sys

import pytest
from django.core.management import call_command

from planner import work_out
from planner.record import chapters
from planner.record import facts as f
from sites.loading import read_site
from sites.models import RECORD_MODELS, Site
from tests import demo_house
from tests.starts import KEY

ROOT = pathlib.Path(__file__).resolve().parents[2]


def test_planner_imports_nothing_from_sites():
    for path in (ROOT / "planner").rglob("*.py"):
        if path.name in ("settings.py", "urls.py"):
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not any(name.split(".")[0] == "sites" for name in names), path


@pytest.mark.parametrize("kind", sorted(RECORD_MODELS))
def test_every_record_is_whole(kind):
    """Edit counter, history, and every fact a labelled field and a column."""
    model, fact = RECORD_MODELS[kind], f.RECORDS[kind]
    columns = {column.attname for column in model._meta.concrete_fields}
    names = {one.name for one in dataclasses.fields(fact)}
    assert names <= columns and "edits" in columns and hasattr(model, "history")
    assert set(chapters.fields_of(kind)) == names - {"id"}
    references = [one for one in chapters.fields_of(kind).values() if one.kind.refers]
    assert all(one.to in f.RECORDS for one in references)
    foreign = {column.attname for column in model._meta.concrete_fields if column.remote_field}
    singular = {one.name for one in references if not one.kind.several}
    assert singular == foreign - {
        "site_id",
        "customer_id",
        "made_by_id",
        "changed_by_id",
        "removal_id",
    }


def test_facts_survive_json_and_the_fingerprint_tells_a_change(db):
    demo_house.put_in_place()
    facts = read_site(Site.objects.select_related("customer").get(code="bench"))
    again = f.from_json(f.to_json(facts))
    assert again == facts
    moved = dataclasses.replace(
        facts, hosts=(dataclasses.replace(facts.hosts[0], memory_gib=33.0), *facts.hosts[1:])
    )
    assert f.fingerprint(again) == f.fingerprint(facts) != f.fingerprint(moved)


def test_the_demo_loads_twice_without_doubling(db):
    call_command("demo", "--small")
    before = Site.objects.count()
    call_command("demo", "--small")
    assert before == Site.objects.count() >= 1


def test_health_answers_from_the_database(client, db):
    assert client.get("/health").json() == {"well": True}


@pytest.mark.parametrize(
    ("name", "given"), [("SECRET_KEY", {}), ("ALLOWED_HOSTS", {"SECRET_KEY": KEY})]
)
def test_a_production_start_says_what_is_missing(name, given, tmp_path):
    bare = {
        k: v
        for k, v in os.environ.items()
        if k not in ("DESKWRIGHT_DEMO", "DESKWRIGHT_DEBUG", "SECRET_KEY")
    }
    ran = subprocess.run(
        [sys.executable, "manage.py", "check"],
        cwd=ROOT,
        env={**bare, **given, "DESKWRIGHT_DATA": str(tmp_path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode != 0 and f"{name} is not set." in ran.stderr


def test_secrets_may_come_from_a_file(tmp_path):
    (tmp_path / "key").write_text(KEY)
    bare = {
        k: v
        for k, v in os.environ.items()
        if k not in ("DESKWRIGHT_DEMO", "DESKWRIGHT_DEBUG", "SECRET_KEY")
    }
    ran = subprocess.run(
        [sys.executable, "manage.py", "check"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        env={
            **bare,
            "SECRET_KEY_FILE": str(tmp_path / "key"),
            "ALLOWED_HOSTS": "a.example",
            "DESKWRIGHT_DATA": str(tmp_path),
        },
    )
    assert ran.returncode == 0, ran.stderr


def test_no_migration_is_missing(db):
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


def test_a_plan_of_every_demo_site_works_out(db):
    call_command("demo")
    for site in Site.objects.select_related("customer"):
        assert work_out(read_site(site)).review.findings is not None
