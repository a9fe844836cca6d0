"""10 Stages: own checks, answers with their proofs, steps done, gates signed."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from simple_history.models import HistoricalRecords

from planner.record import facts, units
from planner.record.choices import Choice
from sites.models.base import SiteRecord
from sites.models.fields import number, one_of, several, words, yes_no
from sites.models.work import CheckWords, StepWords


class OwnStep(StepWords, SiteRecord):
    facts = facts.OwnStep

    class Meta:
        """Of both its bases it takes no option."""

    after_own = several()
    owner = one_of("sites.Contact")


class OwnCheck(CheckWords, SiteRecord):
    facts = facts.OwnCheck

    class Meta:
        """Of both its bases it takes no option."""

    ownstep = one_of("sites.OwnStep")


class StepPlan(SiteRecord):
    """Who owns a step of the catalogue or the house here, and how long it takes here."""

    facts = facts.StepPlan

    step = words(100)
    owner = one_of("sites.Contact")
    least_minutes = number()
    likely_minutes = number()
    longest_minutes = number()
    before_day = yes_no()

    def __str__(self) -> str:
        return facts.StepPlan(step=self.step).label


class Answer(models.Model):
    """One answer to one check. Answers are added, never changed: the newest one counts.

    ``proof`` is the note. ``value`` is what the plan's value was where it was answered ("" for none, ``None``
    for answers from before values were kept); ``measured`` is what was read, in ``unit``, with what it may be.
    ``token`` is the sender's own key: what is sent twice is kept once.
    """

    site = models.ForeignKey("sites.Site", models.CASCADE, related_name="+")
    check_key = models.CharField(max_length=160)
    state = models.CharField(max_length=10)
    proof = models.TextField(max_length=4000, blank=True)
    value = models.TextField(max_length=4000, null=True)
    measured = models.TextField(max_length=1000, blank=True, default="")
    unit = words(20)
    low = number()
    high = number()
    token = words(64)
    reopened = models.BooleanField(default=False)
    newest = models.BooleanField(default=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["site", "check_key"])]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "check_key"],
                condition=models.Q(newest=True),
                name="one_newest_answer_a_check",
            ),
            models.UniqueConstraint(
                fields=["site", "by", "token"],
                condition=~models.Q(token=""),
                name="one_answer_a_token",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.check_key}: {self.state}"

    @property
    def measured_words(self) -> str:
        """``21.5 °C``: what was read, with its unit once."""
        read = self.measured.strip()
        if not read or not self.unit or read.casefold().endswith(self.unit.casefold()):
            return read
        return f"{read} {self.unit}"

    @property
    def range_words(self) -> str:
        """What the value might be when it was read; "" for anything."""
        return units.show_range(self.low, self.high, self.unit)

    def backing(self, files: int = 0) -> str:
        """Everything that backs it, in one text."""
        kept = {0: "", 1: "1 photo or file"}.get(files, f"{files} photos or files")
        return "; ".join(filter(None, (self.measured_words, self.proof.strip(), kept)))


SMALL_SIDE = 320  # pixels of the longer side of a small picture


class ProofKind(Choice):
    PHOTO = "photo"
    FILE = "file"
    PROBE = "probe", "probe result"


class Proof(models.Model):
    """What is kept beside an answer's words. ``place`` is its name in the folder of proofs, ``small_place``
    that of a photo's small picture; both are made here, never taken from a person. ``size`` is what it takes in the
    folder in bytes, with its small picture."""

    site = models.ForeignKey("sites.Site", models.CASCADE, related_name="+")
    answer = models.ForeignKey(Answer, models.CASCADE, related_name="proofs")
    kind = models.CharField(max_length=10, choices=ProofKind.pairs())
    name = words(100)
    media_type = words(60)
    place = words(120)
    small_place = words(120)
    size = models.PositiveIntegerField(default=0)
    width = models.PositiveIntegerField(default=0)
    height = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.name or f"{self.kind} {self.pk}"

    @property
    def small_size(self) -> tuple[int, int]:
        """Width and height of the small picture, so that a page does not jump when it comes."""
        longer = max(self.width, self.height, 1)
        share = min(1, SMALL_SIDE / longer)
        return max(1, round(self.width * share)), max(1, round(self.height * share))


class StepMove(Choice):
    """What is done with a step."""

    START = "start"
    DONE = "done"
    UNDO = "undo"
    HAND = "hand"


class StepState(Choice):
    """How far a step is; only a run sheet tells what is ready from what is blocked."""

    DONE = "done"
    UNDER_WAY = "under way"
    NOT_BEGUN = "not begun"
    READY = "ready", "to do"
    BLOCKED = "blocked", "cannot start yet"


class StepDone(models.Model):
    """How far a step is: begun, done, and who has it in hand. What was undone stays in the history.

    ``by`` is whoever said so last, ``owner`` who has it in hand; ``edits`` counts, so that nobody undoes what
    somebody else has just done; ``token`` as with an answer.
    """

    site = models.ForeignKey("sites.Site", models.CASCADE, related_name="+")
    step_key = models.CharField(max_length=160)
    started_at = models.DateTimeField(null=True)
    done_at = models.DateTimeField(null=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+")
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+"
    )
    edits = models.PositiveIntegerField(default=0)
    token = words(64)
    history = HistoricalRecords(cascade_delete_history=False, history_change_reason_field=None)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["site", "step_key"], name="one_line_a_step")]

    def __str__(self) -> str:
        return f"{self.step_key}: {self.state}"

    @property
    def state(self) -> StepState:
        if self.done_at:
            return StepState.DONE
        if self.started_at:
            return StepState.UNDER_WAY
        return StepState.NOT_BEGUN


class Signature(models.Model):
    """A lead signed a gate; what the name was put to is kept with it."""

    site = models.ForeignKey("sites.Site", models.CASCADE, related_name="+")
    stage = models.PositiveSmallIntegerField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.SET_NULL, null=True, related_name="+")
    at = models.DateTimeField(auto_now_add=True)
    on_trust = models.JSONField(default=list)
    excused = models.JSONField(default=list)
    checks = models.JSONField(default=list)
    fingerprint = models.CharField(max_length=9)
    withdrawn_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "stage"],
                condition=models.Q(withdrawn_at=None),
                name="one_signature_a_gate",
            )
        ]

    def __str__(self) -> str:
        return f"gate {self.stage}"
