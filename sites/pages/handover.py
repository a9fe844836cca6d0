"""The handover pack: what was built, the sheets, every answer and every proof, in one file."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable
from typing import IO

from planner import exchange
from planner.papers.defuse import for_csv
from planner.plan import Plan
from sites.actions.proofs import path_of, plain_name
from sites.models import Answer, Proof, Site

HEADINGS = (
    "check",
    "number",
    "what",
    "answer",
    "newest",
    "proof",
    "measured",
    "unit",
    "plan's value",
    "by",
    "at, UTC",
    "photos and files",
)
READ_FIRST = """{customer}, {site}: everything the next technician needs.
Fingerprint of the plan: {fingerprint}. Made on {day} by {by}.

build-book.pdf         the plan, with every value that was built otherwise beside it
sheets-as-built.xlsx   addresses, ports, hosts, templates and checks as they were built
answers.csv            every answer to every check, also the older ones, with who, when and the proof
site.json              the whole site as a document, to be brought into another Deskwright
proofs/                photos and files that stand behind answers, by the check's key
{missing}
Nothing in here is a secret: passwords are where chapter 5 says they are kept.
Keep it where only those can read it who look after this place.
"""
MISSING_LINE = (
    "missing-proofs.txt     {count} of the photos and files are not in this pack: read it first\n"
)
MISSING = """These photos and files stand behind answers, and were not there when this pack was made on {day}.
Ask whoever runs this Deskwright: the folder of proofs is kept beside the database, and was not all there.

{names}
"""
GONE = " (missing)"


def pack(into: IO[bytes], *, site: Site, plan: Plan, book: bytes, sheets: bytes, by: str) -> None:
    """Writes the pack as a ZIP file. A proof that is not in its folder is told by name, in a file of its own, in
    ``read-first.txt`` and beside its answer."""
    day = plan.facts.today
    proofs = list(Proof.objects.filter(site=site).select_related("answer").order_by("pk"))
    paths = {name: path_of(site, proof.place) for proof, name in _named(proofs)}
    missing = [name for name, path in paths.items() if path is None]
    words = {
        "customer": site.customer,
        "site": site,
        "fingerprint": plan.fingerprint,
        "day": day,
        "by": by,
        "missing": MISSING_LINE.format(count=len(missing)) if missing else "",
    }
    with zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("read-first.txt", READ_FIRST.format(**words))
        if missing:
            made.writestr("missing-proofs.txt", MISSING.format(day=day, names="\n".join(missing)))
        made.writestr("build-book.pdf", book, zipfile.ZIP_STORED)
        made.writestr("sheets-as-built.xlsx", sheets, zipfile.ZIP_STORED)
        made.writestr("site.json", exchange.write(exchange.to_document(plan.facts)))
        made.writestr("answers.csv", _answers(site, plan, proofs, set(missing)))
        for name, path in paths.items():
            if path is not None:
                made.write(path, f"proofs/{name}", zipfile.ZIP_STORED)


def _named(proofs: Iterable[Proof]) -> Iterable[tuple[Proof, str]]:
    """Each proof with its name in the pack: check, number, its own name."""
    for proof in proofs:
        key = plain_name(proof.answer.check_key.replace("@", " ")) or "check"
        yield proof, f"{key}/{proof.pk}-{plain_name(proof.name) or proof.kind}"


def _answers(site: Site, plan: Plan, proofs: list[Proof], missing: set[str]) -> str:
    """Every answer, newest first within a check, as CSV with a mark that spreadsheets know as UTF-8."""
    files: dict[int, list[str]] = {}
    for proof, name in _named(proofs):
        files.setdefault(proof.answer_id, []).append(name + GONE if name in missing else name)
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(HEADINGS)
    for one in Answer.objects.filter(site=site).select_related("by").order_by("check_key", "-pk"):
        check = plan.stages.checks.get(one.check_key)
        row = (
            one.check_key,
            check.number if check else "",
            check.title if check else "no longer asked",
            one.state,
            "yes" if one.newest else "no",
            one.proof,
            one.measured,
            one.unit,
            one.value or "",
            one.by or "",
            f"{one.at:%Y-%m-%d %H:%M}",
            ", ".join(files.get(one.pk, ())),
        )
        writer.writerow([for_csv(cell) for cell in row])
    return "\ufeff" + out.getvalue()
