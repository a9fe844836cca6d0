"""What the demo house asks for at every site, typed in through the same forms and actions as a person's input.

In the house's own file: ``[[steps]]`` and ``[[checks]]`` with the fields of :mod:`sites.forms.house_work` (a check's
``ownstep`` by that step's name), and ``[[times]]`` of a ``step`` by its number.
"""

from __future__ import annotations

from django.http import QueryDict
from django.utils import timezone

from planner.stages import own
from sites.actions import house_work as actions
from sites.demo.errors import DemoError
from sites.forms.house_work import EstimateForm, WorkForm
from sites.loading import read_house
from sites.models import HouseEstimate, HouseWork, Person
from sites.models.work import WorkKind

LISTS = {"steps": WorkKind.STEP, "checks": WorkKind.CHECK}


def load_asked(house: dict, by: Person) -> None:
    """Adds what is not there yet; what is there stays as it is."""
    for name, what in LISTS.items():
        for values in house.get(name, []):
            if not HouseWork.objects.filter(what=what, name=values["name"]).exists():
                _add(what, dict(values), by)
    for values in house.get("times", []):
        _estimate(dict(values), by)


def _add(what: str, values: dict, by: Person) -> None:
    if "ownstep" in values:
        step = HouseWork.objects.get(what=WorkKind.STEP, name=values.pop("ownstep"))
        values["ownstep_id"] = step.pk
    form = WorkForm(_sent(values), what=what, facts=read_house())
    unknown = set(values) - set(form.fields)
    if unknown or not form.is_valid():
        raise DemoError(
            f"demo: the house's {what} {values['name']}: {', '.join(unknown)} {form.errors.as_text()}"
        )
    actions.add_work(by=by, what=what, values=form.values())


def _estimate(values: dict, by: Person) -> None:
    facts = read_house()
    key = own.key_named(values.pop("step"), facts)
    if HouseEstimate.objects.filter(step=key).exists():
        return
    form = EstimateForm(_sent(values), facts=facts, times=(), set_before=None)
    if not form.is_valid():
        raise DemoError(f"demo: the house's time of {key}: {form.errors.as_text()}")
    actions.estimate(by=by, step=key, values=form.values(), on=timezone.localdate())


def _sent(values: dict) -> QueryDict:
    """The values as a browser sends them."""
    typed = QueryDict(mutable=True)
    for name, value in values.items():
        typed[name] = ", ".join(value) if isinstance(value, list) else str(value)
    return typed
