"""The one door for texts: each is asked whether it holds a secret before it is kept.

Whoever is refused may say that it is none, by ticking a box that comes with the refusal. Of that, a digest is kept,
made with the house's own key, of the sentence and the field: saving the same text again asks nothing, another secret in
the same text does. What is certainly a secret cannot be waved through: no digest of a secret shall lie anywhere.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django import forms
from django.core.exceptions import ValidationError
from django.utils.crypto import salted_hmac

from planner.secrets_typed import MOST_FOUND, Found, finds
from sites.access import asker
from sites.forms.layout import Laid
from sites.models import SaidHarmless

BOX = "no_secret"  # the name of a box, alone or before the name of its field
NEVER = "Deskwright never keeps secrets: write where it is kept and who can fetch it."
TICK = "If it is none, say so and send it again."
CERTAIN = "This cannot be anything else, so it cannot be kept whatever is said of it: take it out."
LEFT_OUT = "(left out: it looked like a secret)"
_SALT = "deskwright.said-harmless"
_SHORT = 32  # letters of a digest that travel in a box


@dataclass(frozen=True)
class Box:
    """The box “This is no secret: keep it”, as a page shows it beside a refusal."""

    name: str
    value: str
    checked: bool = False


@dataclass
class Asked:
    """What came of asking one text or several: what is ``refused``, and the digests that a tick would settle."""

    refused: list[Found] = field(default_factory=list)
    ticked: dict[str, str] = field(
        default_factory=dict
    )  # digest by field, settled by a tick just now
    open: list[str] = field(default_factory=list)  # digests that a tick would settle

    def add(self, other: Asked) -> None:
        self.refused += other.refused
        self.ticked |= other.ticked
        self.open += other.open

    @property
    def words(self) -> str:
        """Why it is refused and what to do, "" when it is not."""
        return refusal(self.refused)

    def box(self, name: str = BOX) -> Box | None:
        """The box to show, ``None`` when there is nothing that a tick would settle."""
        if any(one.certain for one in self.refused) or not (self.open or self.ticked):
            return None
        value = " ".join(digest[:_SHORT] for digest in (*self.ticked, *self.open))
        return Box(name, value, checked=not self.open)

    def agree(self) -> None:
        """What was ticked is kept once the request has done what it was for."""
        asker.now().said.update(self.ticked)


def ask(text: str, where: str, ticked: str = "") -> Asked:
    """Asks one text of the field ``where``; ``ticked`` is what the box sent, "" for none."""
    most = MOST_FOUND
    while True:
        if text:
            found = finds(text, most)
        else:
            found = []
        asked = _ask_of(found, where, ticked)
        if asked.refused or len(found) < most:
            return asked
        most *= 4  # all of them were settled: there may be more behind them


def _ask_of(found: Sequence[Found], where: str, ticked: str) -> Asked:
    """Asks of what was found, in the field ``where``."""
    asked = Asked()
    if not found:
        return asked
    digests = {one: digest_of(where, one) for one in found}
    settled = _settled(digests.values())
    boxes = set(ticked.split())
    for one, digest in digests.items():
        if one.certain:
            asked.refused.append(one)
        elif digest in settled:
            continue
        elif digest[:_SHORT] in boxes:
            asked.ticked[digest] = where
        else:
            asked.refused.append(one)
            asked.open.append(digest)
    return asked


def digest_of(where: str, found: Found) -> str:
    """Stands for one sentence in one field; nobody can try guesses on it without the house's key."""
    return salted_hmac(_SALT, f"{where}\0{found.sentence}", algorithm="sha256").hexdigest()


def _settled(digests: Iterable[str]) -> set[str]:
    """The digests that somebody has said to be harmless here before."""
    kept = SaidHarmless.objects.filter(site=asker.now().site, digest__in=list(digests))
    return set(kept.values_list("digest", flat=True))


def briefly(found: Sequence[Found]) -> str:
    """What was seen, for where the rest is said once for many."""
    return " ".join(f"“{one.words}” looks like {one.what}." for one in found)


def refusal(found: Sequence[Found]) -> str:
    """Why a text is refused: what was seen, never the whole of it, and what to do instead."""
    if not found:
        return ""
    first = found[0]
    if len(found) > 1:
        more = f" So does more of it: {', '.join(f'“{one.words}”' for one in found[1:3])}."
    else:
        more = ""
    certain = any(one.certain for one in found)
    return f"“{first.words}” looks like {first.what}.{more} {NEVER} {CERTAIN if certain else TICK}"


def refuse_secret(text: str) -> None:
    """Refuses a text that holds a secret, where nobody can be asked about it."""
    asked = ask(text, "")
    if asked.refused:
        first = asked.refused[0]
        raise ValidationError(f"“{first.words}” looks like {first.what}. {NEVER}", code="secret")


def without_secrets(text: str) -> str:
    """A text of a machine, without the lines that hold a secret."""
    if not finds(text):
        return text
    if "\n" in text:
        return "\n".join(LEFT_OUT if finds(line) else line for line in text.split("\n"))
    return LEFT_OUT


class AskingForm(Laid, forms.Form):
    """A form whose texts are asked: every field that people type words into, but those in ``unasked``.

    ``about`` stands before the names of the fields where it is kept what was said of them: the record's kind.
    """

    about = ""
    unasked: frozenset[str] = (
        frozenset()
    )  # texts that no person types and no record keeps: say why, beside it
    one_box = False  # whether its page shows one box for all of it, and none with each field

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.asked = Asked()
        self.briefly: dict[str, str] = {}  # by field, of those that are refused

    def asked_fields(self) -> list[str]:
        """The names of the fields that are asked."""
        return [
            name
            for name, one in self.fields.items()
            if keeps_words(one) and name not in self.unasked
        ]

    def where(self, name: str) -> str:
        """What is kept with a digest: the field, wherever on a page it stands."""
        if self.about:
            return f"{self.about}.{name}"
        return f"{type(self).__name__}.{name}"

    def box_name(self, name: str) -> str:
        return f"{BOX}-{self.add_prefix(name)}"

    def ticks(self, name: str = "") -> str:
        """What the box of a field sent, and that of the whole form."""
        boxes = (self.data.get(self.box_name(name), "") if name else "", self.data.get(BOX, ""))
        return " ".join(filter(None, boxes))

    @property
    def box(self) -> Box | None:
        """One box for all of the form, for a page that shows no box with each field."""
        return self.asked.box()

    def _clean_fields(self):
        for one in self.fields.values():
            one.asked_by_form = True  # as a whole, below: then a box can come with the refusal
        super()._clean_fields()

    def _post_clean(self):
        super()._post_clean()
        self.asked = Asked()
        for name in self.asked_fields():
            typed = self[name].data
            asked = ask(typed if isinstance(typed, str) else "", self.where(name), self.ticks(name))
            if asked.refused:
                self.add_error(name, ValidationError(asked.words, code="secret"))
                self.briefly[name] = briefly(asked.refused)
            if not self.one_box:
                self.fields[name].no_secret = asked.box(self.box_name(name))
            self.asked.add(asked)
        if not self.errors:
            self.asked.agree()


def keeps_words(one: forms.Field) -> bool:
    """Whether people type words into a field: no choice, no password, nothing that is only shown."""
    return (
        isinstance(one, forms.CharField)
        and not one.disabled
        and not isinstance(one.widget, forms.PasswordInput)
    )
