"""Whether somebody else was first, and what is said then."""

import pytest

from sites.actions.customers import change_customer
from sites.forms import guard
from sites.forms.customers import CustomerForm
from sites.forms.guard import Guard


@pytest.mark.parametrize(
    ("seen", "stands", "moved"),
    [
        (3, 3, False),
        (3, 4, True),
        (0, 1, True),  # nobody had answered, and somebody has
        (7, 0, True),  # what was seen is gone
        ("0.7", "0.7", False),
        ("", "0.7", True),  # a page that does not say saw nothing
        (None, 5, False),  # nobody looked: nothing is asked
    ],
)
def test_what_stands_is_held_against_what_was_seen(seen, stands, moved):
    assert Guard(seen, stands).moved == moved


def test_somebody_has_a_name_or_is_somebody():
    assert guard.changed("Ida", "mill-h1") == "Ida changed mill-h1 meanwhile."
    assert guard.changed(None, "mill-h1") == "Somebody changed mill-h1 meanwhile."


def test_a_form_that_is_sent_once_more_stands_beside_what_others_saved(customer, staff):
    opened = customer.edits
    theirs = {"name": customer.name, "reference": "R-2", "note": ""}
    saved = change_customer(by=staff, customer=customer, opened_at=opened, values=theirs)
    sent = {"name": "Larkfield", "reference": "", "note": "Mine.", "edits": str(opened)}
    form = CustomerForm(sent, customer=customer, changing=True)
    assert form.is_valid() and Guard(form.opened_at, saved.record.edits).moved
    again = form.with_theirs(saved.record, ["reference"])
    assert again.is_valid() and again.opened_at == saved.record.edits
    assert again.values() == {"name": "Larkfield", "reference": "R-2", "note": "Mine."}
