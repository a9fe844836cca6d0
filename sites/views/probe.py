"""The probe: a script for each network to take along, and its results brought in."""

from __future__ import annotations

import secrets
from collections.abc import Iterator
from dataclasses import dataclass

from django.contrib import messages
from django.core import signing
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from planner.papers import probe as papers
from planner.papers.probe.preview import VerdictState
from planner.papers.probe.results import MOST_BYTES
from planner.record.chapters import BY_SLUG
from planner.record.choices import AnswerState
from sites.access import door as access
from sites.actions import probe as actions
from sites.actions.papers import note_printed
from sites.actions.proofs import Unfit
from sites.actions.stages import Refused
from sites.forms.layout import Shaped, Whole
from sites.forms.probe import MOST_WORDS, RestForm, ResultsForm
from sites.models import Site
from sites.pages.standing import plan_of
from sites.pages.workbook import frame

MOST_FILES = 25
KEEPS = 12 * 3600  # seconds in which a preview can be taken
MOST_CARRIED = 1_500_000  # letters of a form that the server still takes
SHOWN = 400  # questions of one network that the page lists


class Questioned(Refused):
    """A text looks like a secret; the form holds the box that says otherwise."""

    def __init__(self, form: RestForm):
        super().__init__(form.asked.words)
        self.form = form


@dataclass
class Script:
    """One network's script on the page."""

    place: papers.Place
    tasks: tuple[papers.Task, ...]

    @property
    def shown(self) -> tuple[papers.Task, ...]:
        return self.tasks[:SHOWN]

    @property
    def more(self) -> int:
        return max(0, len(self.tasks) - SHOWN)


@access.for_site(access.READ)
@require_safe
def page(request: HttpRequest, site: Site) -> HttpResponse:
    """What can be asked from which network, and what nobody can be asked."""
    plan = plan_of(site)
    probe = papers.probe_of(plan)
    checks = plan.stages.checks
    context = {
        **frame(request, site, BY_SLUG["stages"], plan),
        "scripts": [Script(probe.places[id], tasks) for id, tasks in probe.by_network.items()],
        "without": [one for one in plan.facts.networks if one.id not in probe.by_network],
        "untold": [
            (checks[key], reasons)
            for key, reasons in probe.untold.items()
            if key in probe.by_check
            or checks[key].state not in (AnswerState.PROVEN, AnswerState.EXCUSED)
        ],
        "provable": sum(check.key in probe.by_check for check in checks.values()),
    }
    return render(request, "probe/page.html", context)


@access.for_site(access.READ)
@require_safe
def script(request: HttpRequest, site: Site, network: int) -> HttpResponse:
    """The script of one network, to be saved and run there."""
    plan = plan_of(site)
    probe = papers.probe_of(plan)
    if network not in probe.by_network:
        raise Http404
    name = papers.stem(plan, probe, network)
    if request.method == "GET":
        paper = f"probe, {probe.places[network].network.label}"[:40]
        note_printed(by=request.user, site=site, paper=paper, fingerprint=plan.fingerprint)
    return HttpResponse(
        papers.write_script(plan, probe, network).encode(),
        content_type=papers.MEDIA_TYPE,
        headers={
            "Content-Disposition": f'attachment; filename="{name}.py"',
            "Cache-Control": "private, no-store",
        },
    )


# -- results -------------------------------------------------------------------------------------


@dataclass
class Carried:
    """The results files of a preview, carried to its confirmation under our own signature."""

    texts: list[str]
    seen: dict[str, int]
    token: str

    def signed(self, site: Site) -> str:
        return signing.dumps([self.texts, self.seen, self.token], salt=_salt(site), compress=True)

    @classmethod
    def read(cls, text: str, site: Site) -> Carried:
        """Raises :class:`papers.Unreadable` when it is not ours, or too old."""
        try:
            return cls(*signing.loads(text, salt=_salt(site), max_age=KEEPS))
        except signing.BadSignature:
            raise papers.Unreadable(
                "This preview is too old to be taken: choose the files again."
            ) from None


def _salt(site: Site) -> str:
    return f"probe-results-{site.pk}"


@access.for_site(access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def results(request: HttpRequest, site: Site) -> HttpResponse:
    """Results files: choose them, see what they would answer, take what is wanted."""
    plan = plan_of(site)
    probe = papers.probe_of(plan)
    shown: dict = {}
    trouble = ""
    if request.method == "POST":
        try:
            if "carried" in request.POST:
                carried = Carried.read(request.POST["carried"], site)
            else:
                carried = _uploaded(request)
            found = papers.preview(
                plan, probe, [papers.read_run(text.encode(), plan, probe) for text in carried.texts]
            )
            carried.seen = carried.seen or actions.newest_answers(site, found)
            shown = {"preview": found, "carried": carried.signed(site)}
            if len(shown["carried"]) > MOST_CARRIED:
                raise papers.Unreadable(
                    "These are too many to be looked at together: bring them in in two goes."
                )
            if "confirm" in request.POST:
                return _take(request, site, probe, found, carried)
        except (papers.Unreadable, Refused, Unfit) as error:
            trouble = str(error)
            if isinstance(error, papers.Unreadable):
                shown = {}
            elif isinstance(error, Questioned):
                shown["box"] = error.form.box
    if shown:
        shown |= _previewed(request, shown["preview"])
    context = {
        **frame(request, site, BY_SLUG["stages"], plan),
        "trouble": trouble,
        "bad": trouble,
        "files": ResultsForm(),
        **shown,
    }
    return render(request, "probe/results.html", context, status=422 if trouble else 200)


def _uploaded(request: HttpRequest) -> Carried:
    files = request.FILES.getlist("results")
    if not files or len(files) > MOST_FILES:
        raise papers.Unreadable(f"Choose the files that the probe wrote, {MOST_FILES} at most.")
    texts = []
    for one in files:
        content = one.read(MOST_BYTES + 1)
        try:
            if len(content) > MOST_BYTES:
                raise ValueError
            texts.append(content.decode("utf-8"))
        except ValueError:
            name = (one.name or "A file")[:80]
            raise papers.Unreadable(
                f"{name} is no results file of the probe: choose the file it wrote."
            ) from None
    return Carried(texts, {}, secrets.token_hex(16))


def _take(
    request: HttpRequest, site: Site, probe: papers.Probe, found: papers.Preview, carried: Carried
) -> HttpResponse:
    wanted = [
        found.by_check[key]
        for key in dict.fromkeys(request.POST.getlist("take"))
        if key in found.by_check
    ]
    taken = [
        actions.Taking(one, _rest(request, one) if one.state == VerdictState.PART else "")
        for one in wanted
    ]
    form = RestForm(request.POST, checks=[one.verdict.check.key for one in taken if one.rest])
    if not form.is_valid():
        raise Questioned(form)
    made = actions.take_verdicts(
        by=request.user,
        role=request.access.role,
        site=site,
        probe=probe,
        taken=taken,
        seen=carried.seen,
        token=carried.token,
    )
    proven = sum(answer.state == AnswerState.PROVEN for answer in made)
    messages.success(
        request, f"{proven} proven, {len(made) - proven} failed, by the probe's results."
    )
    return redirect("chapter", site.customer.code, site.code, "stages")


def _rest(request: HttpRequest, verdict: papers.Verdict) -> str:
    return request.POST.get(f"rest-{verdict.check.key}", "")[:MOST_WORDS]


def _previewed(request: HttpRequest, preview: papers.Preview) -> dict:
    """The verdicts as shown, in their groups, with the boxes of those that are told in part."""
    rows = [_row(request, verdict) for verdict in preview.verdicts]
    part = [row for row in rows if row["may"] and row["verdict"].state == VerdictState.PART]
    typed = {f"rest-{row['check'].key}": _rest(request, row["verdict"]) for row in part}
    form = RestForm(checks=[row["check"].key for row in part], typed=typed)
    for row in rows:
        row["rest"] = form.of(row["check"].key)
    groups = list(_groups(rows))
    form.helper = Whole(Shaped("probe/_groups.html", *form.fields, groups=groups))
    return {"form": form, "rows": rows, "groups": groups}


def _row(request: HttpRequest, verdict: papers.Verdict) -> dict:
    """A verdict as shown: whether it may be taken, whether it is ticked."""
    why = actions.why_not(verdict, request.access.role)
    may = not why and (verdict.answers or verdict.completable)
    again = "confirm" in request.POST
    if again:
        ticked = verdict.check.key in request.POST.getlist("take")
    else:
        ticked = _worth(verdict)
    return {
        "verdict": verdict,
        "check": verdict.check,
        "may": may,
        "why": why,
        "ticked": may and ticked,
        "again": _again(verdict),
    }


def _worth(verdict: papers.Verdict) -> bool:
    """Ticked from the start: what would change something, and nothing that needs words first."""
    return verdict.answers and verdict.check.state != AnswerState.EXCUSED and not _again(verdict)


def _again(verdict: papers.Verdict) -> bool:
    """What was seen is what is answered already, or a part of it."""
    if verdict.state == VerdictState.PART:
        return verdict.check.state == AnswerState.PROVEN
    return verdict.check.state == verdict.state


GROUPS = (
    (VerdictState.FAILED, "Not as planned"),
    (VerdictState.PROVEN, "As planned"),
    (VerdictState.PART, "Told in part"),
    (VerdictState.UNTOLD, "Could not be told"),
)


def _groups(rows: list[dict]) -> Iterator[dict]:
    """The worst first; what is answered so already comes last."""
    for state, title in GROUPS:
        found = [row for row in rows if row["verdict"].state == state and not row["again"]]
        if found:
            yield {"title": title, "rows": found, "again": False}
    again = [row for row in rows if row["again"]]
    if again:
        yield {"title": "Answered so already", "rows": again, "again": True}
