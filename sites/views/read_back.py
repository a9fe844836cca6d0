"""9.1 The allocation sheet comes back filled in: look at what it would do, choose, confirm."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from planner.papers.sheets.reading import read_table
from planner.papers.sheets.table import LIMITS, Table, Unreadable
from planner.plan import Plan
from planner.record.chapters import BY_SLUG
from sites.access import asker
from sites.access import door as access
from sites.actions.locking import hold
from sites.actions.reading_back import read_back as write
from sites.actions.rows import RowOutcome
from sites.actions.stages import Refused
from sites.forms.exchange import FileForm, TooMuch, unwrap, wrap
from sites.forms.numbers import whole
from sites.forms.secrets import BOX
from sites.intake.reading_back import WANTED, Seen, look
from sites.models import Site
from sites.pages.standing import plan_of
from sites.pages.workbook import frame

ACCEPT = ".xlsx,.csv,text/csv"

TALLIED = (
    RowOutcome.ADDED,
    RowOutcome.CHANGED,
    RowOutcome.CONFLICT,
    RowOutcome.REFUSED,
    RowOutcome.UNCHANGED,
)


@access.for_site(access.EDIT)
@require_http_methods(["GET", "HEAD", "POST"])
def read_back(request: HttpRequest, site: Site) -> HttpResponse:
    """Takes a file and shows what each row of it would change; writes once that is confirmed."""
    if "parcel" in request.POST:
        return _confirmed(request, site)
    plan = plan_of(site)
    if request.method != "POST":
        return _ask(request, site, plan, FileForm(most=LIMITS.file_bytes, accept=ACCEPT))
    too_large = getattr(request, "too_large", False)
    form = FileForm(
        request.POST, request.FILES, most=LIMITS.file_bytes, too_large=too_large, accept=ACCEPT
    )
    if form.is_valid():
        try:
            table = read_table(form.data_of_file, WANTED)
            parcel = wrap(_flat(table), _salt(request, site))
        except Unreadable as error:
            form.add_error("file", str(error))
        except TooMuch:
            form.add_error(
                "file",
                "The sheet is too large to be read at once. Take it apart and bring it in pieces.",
            )
        else:
            seen = look(site, plan, table)
            if not seen.trouble:
                return _show(request, site, plan, seen, parcel)
            form.add_error("file", seen.trouble)
    return _ask(request, site, plan, form, 422)


def _salt(request: HttpRequest, site: Site) -> str:
    return f"read-back:{site.pk}:{request.user.pk}"


def _flat(table: Table) -> dict:
    return {
        "kind": table.kind,
        "headings": table.headings,
        "rows": table.rows,
        "numbers": table.numbers,
        "notes": table.notes,
    }


def _table(flat: dict) -> Table:
    rows = tuple(tuple(row) for row in flat["rows"])
    return Table(
        flat["kind"], tuple(flat["headings"]), rows, tuple(flat["numbers"]), tuple(flat["notes"])
    )


def _ask(
    request: HttpRequest, site: Site, plan: Plan, form: FileForm, status: int = 200
) -> HttpResponse:
    context = {
        **frame(request, site, BY_SLUG["papers"], plan),
        "form": form,
        "bad": form if form.errors else None,
    }
    return render(request, "exchange/read_back.html", context, status=status)


def _show(
    request: HttpRequest, site: Site, plan: Plan, seen: Seen, parcel: str, moved_on: bool = False
) -> HttpResponse:
    asker.now().forget()  # the sheet was only looked at
    context = {
        **frame(request, site, BY_SLUG["papers"], plan),
        "seen": seen,
        "parcel": parcel,
        "moved_on": moved_on,
        "box": seen.asked.box(),
        "ticked": bool(request.POST.get(BOX)) and not moved_on,
        "rows": [row for row in seen.rows if row.does != RowOutcome.UNCHANGED or row.asides],
        "tally": [(word, seen.count(word)) for word in TALLIED],
        "stale": bool(seen.fingerprint) and seen.fingerprint != plan.fingerprint,
        "taken": {name for name in request.POST if request.POST[name] == "sheet"},
    }
    return render(request, "exchange/read_back_rows.html", context, status=409 if moved_on else 200)


def _confirmed(request: HttpRequest, site: Site) -> HttpResponse:
    """Looks once more, at the site as it is now, and writes if that shows what was confirmed."""
    flat = unwrap(request.POST["parcel"], _salt(request, site))
    if flat is None:
        messages.error(request, "What was read is no longer at hand. Choose the file once more.")
        return _ask(
            request, site, plan_of(site), FileForm(most=LIMITS.file_bytes, accept=ACCEPT), 422
        )
    ticked = [name for name, word in request.POST.items() if word == "sheet"]
    take = {whole(name.removeprefix("take-")) for name in ticked if name.startswith("take-")}
    try:
        with transaction.atomic():
            held = hold(site)
            plan = plan_of(held)
            ticked = request.POST.get(BOX, "")
            seen = look(held, plan, _table(flat), ticked)
            if seen.digest != request.POST.get("digest") or seen.trouble:
                only_ticked = ticked and look(held, plan, _table(flat)).digest == request.POST.get(
                    "digest"
                )
                return _show(
                    request, held, plan, seen, request.POST["parcel"], moved_on=not only_ticked
                )
            added, changed = write(by=request.user, site=held, rows=seen.rows, take=take)
    except Refused as error:
        messages.error(request, str(error))
        return redirect("read-back", site.customer.code, site.code)
    messages.success(
        request, f"The sheet is read back: {_count(added, 'added')}, {_count(changed, 'changed')}."
    )
    return redirect("chapter", site.customer.code, site.code, "addresses")


def _count(number: int, did: str) -> str:
    if number == 1:
        return f"1 record {did}"
    return f"{number} records {did}"
