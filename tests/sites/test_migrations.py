"""A new house gets its tables together; one of before goes the way of the single migrations."""

import pytest
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

SINGLE = (
    "0001_initial",
    "0002_assumed_history",
    "0003_ports_decided",
    "0004_sites_joined",
    "0005_proofs_and_steps",
    "0006_pilot_sheets",
    "0007_work_beyond_the_catalogue",
    "0008_the_front_door",
)


@pytest.fixture
def stands(db, monkeypatch):
    """A house in which so many of the single migrations were applied, and all of the other apps'."""

    others = {
        key: when
        for key, when in MigrationRecorder(connection).applied_migrations().items()
        if key[0] != "sites"
    }

    def applied(count: int) -> MigrationExecutor:
        done = {("sites", name): None for name in SINGLE[:count]}
        if count:
            done |= others
        monkeypatch.setattr(MigrationRecorder, "applied_migrations", lambda recorder: dict(done))
        return MigrationExecutor(connection)

    return applied


def planned(executor: MigrationExecutor) -> list[str]:
    targets = executor.loader.graph.leaf_nodes("sites")
    plan = executor.migration_plan(targets)
    return [migration.name for migration, _ in plan if migration.app_label == "sites"]


def test_a_new_house_takes_one_step(stands):
    assert planned(stands(0))[0] == "0001_tables_together"
    assert not set(planned(stands(0))) & set(SINGLE)


@pytest.mark.parametrize("count", range(1, len(SINGLE)))
def test_a_house_of_before_goes_on_where_it_stood(stands, count):
    executor = stands(count)
    executor.loader.check_consistent_history(connection)
    assert [name for name in planned(executor) if name in SINGLE] == list(SINGLE[count:])
    assert "0001_tables_together" not in planned(executor)


def test_both_ways_end_in_the_same_tables():
    """What Django knows of the tables after the one step is what it knows after the single ones."""
    together = MigrationLoader(None).project_state(("sites", "0001_tables_together"))
    single = MigrationLoader(None, replace_migrations=False).project_state(("sites", SINGLE[-1]))
    ours = {key for key in single.models if key[0] == "sites"}
    assert ours and ours == {key for key in together.models if key[0] == "sites"}
    for key in ours:
        one, other = single.models[key], together.models[key]
        assert one.fields.keys() == other.fields.keys()
        for name, field in one.fields.items():
            assert field.deconstruct()[1:] == other.fields[name].deconstruct()[1:], (key, name)
        named = lambda state, what: sorted(x.name for x in state.options.get(what, []))  # noqa: E731
        assert named(one, "constraints") == named(other, "constraints")
        assert named(one, "indexes") == named(other, "indexes")
