"""Looks at a database and its proofs after a kill; says on standard output what is there and what is wrong."""

from __future__ import annotations

import hashlib
import json
from collections import Counter

import django


def main() -> None:
    django.setup()
    from django.db import connection

    from sites.models import Answer, Contact, Proof, Site, TakenForm

    site = Site.objects.get(code="mill")
    wrong = []
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA integrity_check")
            wrong += [f"integrity: {words}" for (words,) in cursor.fetchall() if words != "ok"]
            cursor.execute("PRAGMA foreign_key_check")
            wrong += [f"foreign key: {row}" for row in cursor.fetchall()]
    contacts = list(Contact.objects.filter(site=site))
    for one in contacts:
        kept = list(one.history.values_list("name", "edits"))
        if kept != [(one.name, one.edits)]:
            wrong.append(f"history of {one}: {kept}")
    for key in Answer.objects.values_list("check_key", flat=True).distinct():
        newest = Answer.objects.filter(check_key=key, newest=True).values_list("pk", flat=True)
        if list(newest) != [max(Answer.objects.filter(check_key=key).values_list("pk", flat=True))]:
            wrong.append(f"newest of {key}: {list(newest)}")
    for proof in Proof.objects.all():
        wrong += [f"proof {proof.pk}: {words}" for words in wrongs_of(proof)]
    wrong += [
        f"form {one} made nothing"
        for one in TakenForm.objects.exclude(record__in=[c.pk for c in contacts])
    ]
    answers = Answer.objects.prefetch_related("proofs")
    print(
        json.dumps(
            {
                "wrong": wrong,
                "counter": site.counter,
                "contacts": Counter(one.name for one in contacts),
                "answers": Counter(one.proof for one in answers),
                "without": [a.proof for a in answers if not a.proofs.all()],
                "forms": TakenForm.objects.count(),
            }
        )
    )


def wrongs_of(proof) -> list[str]:
    """What is wrong with the files behind a row."""
    from sites.actions.proofs import folder

    found, size = [], 0
    for place in (proof.place, proof.small_place):
        path = folder() / place
        if not path.is_file():
            found.append(f"{place} is not there")
            continue
        content = path.read_bytes()
        size += len(content)
        if hashlib.sha256(content).hexdigest() != path.stem:
            found.append(f"{place} is not whole: {len(content)} bytes")
    return found or ([f"{size} bytes, the row says {proof.size}"] if size != proof.size else [])


if __name__ == "__main__":
    main()
