"""0 Customer and 1 Brief: who owns what, and the site itself."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import RegexValidator
from django.db import models
from simple_history.models import HistoricalRecords

from planner.record import facts
from planner.record.choices import NumberOrigin, PaperSize, Role, SitePurpose
from sites.models.base import Removal, Stamped
from sites.models.fields import clock, day, number, paragraphs, several, whole, words

CODE = RegexValidator(
    r"^[a-z0-9]([a-z0-9-]*[a-z0-9])?$",
    "Use small letters, digits and hyphens, as in “mill-street”.",
)


class Customer(Stamped):
    """A business whose people will work on the desktops: the boundary of who may see what."""

    name = models.CharField(max_length=200)
    code = models.CharField(max_length=40, unique=True, validators=[CODE])
    reference = words()
    factor_required = models.BooleanField(
        default=False
    )  # of every member, so that a password alone opens nothing
    proof_mib = models.PositiveIntegerField(
        null=True, blank=True
    )  # room for proofs, where it is not the house's
    history = HistoricalRecords(cascade_delete_history=False, history_change_reason_field=None)

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name


class Membership(models.Model):
    """What a person may do at one customer."""

    customer = models.ForeignKey(Customer, models.CASCADE, related_name="memberships")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=10, choices=Role.pairs(), default=Role.READER.value)
    history = HistoricalRecords(cascade_delete_history=False, history_change_reason_field=None)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["customer", "person"], name="one_membership_a_person")
        ]
        ordering = ["person__name", "person__email"]

    def __str__(self) -> str:
        return f"{self.person}: {self.role}"


class Site(Stamped):
    """One place of a customer: its record and its plan. The aggregate that everything else belongs to.

    ``counter`` rises with every save anywhere in the site: it tells an open page that the site has
    moved on. ``standing`` keeps what the home page shows, so that the home page never works out a plan.
    """

    facts = facts.Site
    owns = ()

    customer = models.ForeignKey(Customer, models.CASCADE, related_name="sites")
    name = words()
    code = models.CharField(max_length=40, validators=[CODE])
    purpose = models.CharField(
        max_length=10,
        choices=SitePurpose.pairs(),
        default=SitePurpose.TRIAL.value,
    )
    street_address = paragraphs()
    time_zone = words(64)
    paper = models.CharField(max_length=10, choices=PaperSize.pairs(), default=PaperSize.A4.value)
    on_site_date = day()
    go_live_date = day()
    work_starts = clock()
    work_ends = clock()
    work_days = several()
    people_count = whole()
    scope = paragraphs()
    out_of_scope = paragraphs()
    way_in = paragraphs()
    joined = several()
    counter = models.PositiveBigIntegerField(default=1, editable=False)
    standing = models.JSONField(default=dict, editable=False)
    stoppers = models.PositiveIntegerField(default=0, editable=False)
    removal = models.ForeignKey(
        Removal, models.SET_NULL, null=True, blank=True, editable=False, related_name="+"
    )
    history = HistoricalRecords(
        cascade_delete_history=False,
        history_change_reason_field=None,
        excluded_fields=["counter", "standing", "stoppers"],
    )

    class Meta:
        ordering = ["name", "pk"]
        constraints = [models.UniqueConstraint(fields=["customer", "code"], name="one_site_a_code")]
        indexes = [models.Index(fields=["-stoppers", "on_site_date"])]

    def __str__(self) -> str:
        return self.name or self.code

    @property
    def anchor(self) -> str:
        return f"site-{self.pk}"

    @property
    def site_id(self) -> int:
        return self.pk


class Presence(models.Model):
    """Who looks at a site now, and at which chapter."""

    site = models.ForeignKey(Site, models.CASCADE, related_name="+")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    chapter = models.PositiveSmallIntegerField(default=1)
    seen_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "person"], name="one_presence_a_person")
        ]

    def __str__(self) -> str:
        return f"{self.person} at {self.site}"


class HouseAssumption(models.Model):
    """The house's own value of a planning number, for every site that has none of its own."""

    key = models.CharField(max_length=80, unique=True)
    value = number()
    origin = models.CharField(max_length=20, default=NumberOrigin.HOUSE_RULE.value)
    set_on = day()
    note = paragraphs()
    history = HistoricalRecords(cascade_delete_history=False, history_change_reason_field=None)

    class Meta:
        ordering = ["key"]

    def __str__(self) -> str:
        return self.key
