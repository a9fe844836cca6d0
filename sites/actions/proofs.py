"""Photos and files kept as proof: what is taken, how it is made harmless, where it is kept.

- What a file is, its content decides; its name and what the browser says of it decide nothing.
- A photo is drawn anew from its pixels (:mod:`sites.web.photos`).
- A file is a PDF or a plain text. Text that could be taken for a page or a drawing with script is refused.
- Its name in the folder is its own SHA-256, under the number of its site. It lies there for good before a row
  speaks of it: it is laid down before the database is locked (:func:`lay_down`), and looked at once more under the
  lock (:func:`keep`).
- What a customer's proofs may take together is bounded.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import logging
import pathlib
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.conf import settings
from django.db import transaction
from django.db.models import Sum
from PIL import Image

from sites.actions.locking import hold
from sites.models import Answer, Customer, Proof, Site
from sites.models.stages import SMALL_SIDE, ProofKind
from sites.web import photos
from sites.web.durable import holds, write_whole
from sites.web.uploads import MOST_BYTES, MOST_BYTES_TOGETHER

log = logging.getLogger("deskwright.proofs")
MOST_FILES = 8  # with one answer
PNG_BYTES = 3 * 2**20  # a larger one is kept as JPEG
ENDINGS = {"image/jpeg": "jpg", "image/png": "png", "application/pdf": "pdf", "text/plain": "txt"}
_MARKUP = re.compile(
    rb"<\s*(!doctype|\?xml|!entity|html|head|body|svg|script|iframe|object|embed|img|meta|link|style)",
    re.I,
)
_CONTROL = re.compile(rb"[\x00-\x08\x0e-\x1f\x7f]")


class Unfit(Exception):
    """This cannot be kept; the message says why and what to do."""


class Later(Unfit):
    """Nothing is wrong with it, but it cannot be kept just now: the same can be sent again."""


@dataclass(frozen=True)
class Taken:
    """A photo or file, looked at and made ready to be kept."""

    kind: ProofKind
    name: str
    media_type: str
    content: bytes
    small: bytes = b""
    width: int = 0
    height: int = 0


def folder() -> pathlib.Path:
    """Where proofs are kept: nothing there is served by itself."""
    return pathlib.Path(settings.PROOFS)


def take_all(uploads: Sequence, too_large: bool = False) -> list[Taken]:
    """Every uploaded file, ready to be kept. Raises :class:`Unfit` when one cannot be; then none is."""
    if too_large:
        raise Unfit(
            f"That is too large: at most {MOST_BYTES >> 20} MB each and {MOST_BYTES_TOGETHER >> 20} MB together."
        )
    if len(uploads) > MOST_FILES:
        raise Unfit(f"At most {MOST_FILES} photos or files with one answer.")
    pixels = sum(photos.pixels_of(one) for one in uploads)
    if pixels > photos.MOST_PIXELS_TOGETHER:
        raise Unfit(
            f"These photos have {pixels / 1e6:.3g} million pixels together; at most "
            f"{photos.MOST_PIXELS_TOGETHER // 1_000_000} million are taken with one answer. "
            "Make them smaller, or send some of them with a further answer."
        )
    with _turn() if pixels else contextlib.nullcontext():
        return [_looked_at(one.read(MOST_BYTES + 1), one.name or "") for one in uploads]


def take(content: bytes, name: str = "") -> Taken:
    """Looks at what somebody sent and makes it ready to be kept. Raises :class:`Unfit`."""
    with _turn():
        return _looked_at(content, name)


@contextlib.contextmanager
def _turn() -> Iterator[None]:
    try:
        with photos.in_turn():
            yield
    except photos.Busy as error:
        raise Later(
            "Other photos are being looked at just now. Nothing is lost: send it again in a minute."
        ) from error


def _looked_at(content: bytes, name: str) -> Taken:
    name = plain_name(name)
    if name:
        called = f"“{name}”"
    else:
        called = "That file"
    if not content:
        raise Unfit(f"{called} is empty.")
    if len(content) > MOST_BYTES:
        raise Unfit(f"{called} is larger than {MOST_BYTES >> 20} MB.")
    photo = _photo(content, name, called)
    if photo is not None:
        return photo
    if content.startswith(b"%PDF-") and b"%%EOF" in content[-2048:]:
        return Taken(ProofKind.FILE, name or "file.pdf", "application/pdf", content)
    if _is_text(content):
        return Taken(ProofKind.FILE, name or "file.txt", "text/plain", content)
    raise Unfit(f"{called} is not a photo (JPEG, PNG, WebP, GIF), a PDF or a plain text.")


def plain_name(name: str) -> str:
    """A file's name without its folders and without anything that is not to be read."""
    last = re.split(r"[/\\]", name)[-1]
    return re.sub(r"[^\w .,()+-]", "", last).strip(" .")[:100]


# -- photos --------------------------------------------------------------------------------------


def _photo(content: bytes, name: str, called: str) -> Taken | None:
    """The photo drawn anew; ``None`` when it is none. Raises :class:`Unfit` for one that cannot be taken."""
    try:
        picture = photos.opened(io.BytesIO(content))
        if picture is None:
            return None
        wanted_png = picture.format == "PNG"
        return _written(photos.drawn(picture), wanted_png, name)
    except photos.TooMany as error:
        raise Unfit(
            f"{called} {error}. Make it smaller, or take it in a lower resolution."
        ) from error
    except photos.Broken as error:
        raise Unfit(f"{called} is broken: take the photo again.") from error


def _written(clean: Image.Image, wanted_png: bool, name: str) -> Taken:
    if wanted_png:
        png = photos.as_png(clean, PNG_BYTES)
    else:
        png = None
    content = png or photos.as_jpeg(clean)
    if png:
        media_type = "image/png"
    else:
        media_type = "image/jpeg"
    small = clean.copy()
    small.thumbnail((SMALL_SIDE, SMALL_SIDE))
    return Taken(
        ProofKind.PHOTO,
        name or f"photo.{ENDINGS[media_type]}",
        media_type,
        content,
        photos.as_jpeg(small),
        clean.width,
        clean.height,
    )


# -- texts ---------------------------------------------------------------------------------------


def _is_text(content: bytes) -> bool:
    if _CONTROL.search(content) or _MARKUP.search(content):
        return False
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


# -- keeping -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Room:
    """How many bytes a customer's proofs take, and how many they may."""

    used: int
    most: int

    @property
    def left(self) -> int:
        return max(0, self.most - self.used)

    @property
    def words(self) -> str:
        """``12 MB of 4,096 MB``; MB as in the rest of the house, 2^20 bytes."""
        return f"{_megabytes(self.used)} of {_megabytes(self.most)}"


def room_of(customer: Customer) -> Room:
    """What a customer's proofs take, removed sites and small pictures with them. The same file twice at one site
    lies there once and counts once."""
    kept = (
        Proof.objects.filter(site__customer=customer).order_by().values("place", "size").distinct()
    )
    if customer.proof_mib is None:
        mib = settings.PROOF_QUOTA_MIB
    else:
        mib = customer.proof_mib
    return Room(kept.aggregate(sum=Sum("size"))["sum"] or 0, mib * 2**20)


def room_left(customer: Customer) -> int:
    """How many bytes more a customer's proofs may take."""
    return room_of(customer).left


def _megabytes(count: int) -> str:
    return f"{-(-count // 2**20):,} MB"


def lay_down(site: Site, taken: Iterable[Taken]) -> frozenset[str]:
    """Writes what was taken into the folder, for good, and gives the places. No row speaks of it yet.

    The disk takes its time, so this comes before the database is locked. Raises :class:`Unfit` when the customer's
    proofs have no room for it, and :class:`Later` when the disk takes no more.
    """
    taken = list(taken)
    if not taken:
        return frozenset()
    _want_room(site.customer, taken)
    places = {place: content for one in taken for place, content in _files(site.pk, one)}
    _write(places)
    return frozenset(places)


@transaction.atomic
def keep(
    answer: Answer, taken: Iterable[Taken], laid_down: Collection[str] = frozenset()
) -> list[Proof]:
    """Notes what was taken with the answer. What is not among the places ``laid_down``, or no longer there, is laid
    down first.

    Raises :class:`Unfit` as :func:`lay_down` does.
    """
    hold(answer.site)
    taken = list(taken)
    if taken:
        customer = Customer.objects.select_for_update(no_key=True).get(pk=answer.site.customer_id)
        _want_room(customer, taken)
    for one in taken:
        files = dict(_files(answer.site_id, one))
        lacking = {
            place: content
            for place, content in files.items()
            if place not in laid_down or not holds(folder() / place, content)
        }
        _write(lacking)
    return [_noted(answer, one) for one in taken]


def _noted(answer: Answer, one: Taken) -> Proof:
    places = [place for place, _ in _files(answer.site_id, one)]
    return Proof.objects.create(
        site_id=answer.site_id,
        answer=answer,
        kind=one.kind,
        name=one.name,
        media_type=one.media_type,
        place=places[0],
        small_place=places[1] if one.small else "",
        size=len(one.content) + len(one.small),
        width=one.width,
        height=one.height,
    )


@transaction.atomic
def let_go(site: Site, places: Collection[str]) -> None:
    """Takes out of the folder what was laid down and is in no answer now. Whoever laid down the same meanwhile finds
    that out under the lock."""
    hold(site)
    rows = Proof.objects.filter(site=site)
    named = set(rows.filter(place__in=places).values_list("place", flat=True))
    named |= set(rows.filter(small_place__in=places).values_list("small_place", flat=True))
    for place in set(places) - named:
        with contextlib.suppress(OSError):
            (folder() / place).unlink()


def _want_room(customer: Customer, taken: Iterable[Taken]) -> None:
    """Raises :class:`Unfit` when there is none. Nobody takes it before the transaction ends if the customer's row is
    locked: it is the last that is, after the site's."""
    wanted = sum(len(one.content) + len(one.small) for one in taken)
    room = room_of(customer)
    if wanted > room.left:
        raise Unfit(
            f"There is no room for it: the photos and files of {customer} take {room.words}, and this needs "
            f"{_megabytes(wanted)} more. House staff can give more room. Without it the answer can be sent."
        )


def _files(site: int, one: Taken) -> Iterator[tuple[str, bytes]]:
    """Where the content lies, and where the small picture of a photo."""
    yield _place(site, one.content, ENDINGS[one.media_type]), one.content
    if one.small:
        yield _place(site, one.small, "jpg"), one.small


def _place(site: int, content: bytes, ending: str) -> str:
    digest = hashlib.sha256(content).hexdigest()
    return f"{site}/{digest[:2]}/{digest}.{ending}"


def _write(places: Mapping[str, bytes]) -> None:
    """Writes whole and for good, or not at all; what is there already is believed only when it is the same."""
    root = folder()
    files = {root / place: content for place, content in places.items()}
    try:
        write_whole(files, root=root)
    except OSError as error:
        log.exception("Proofs cannot be written to %s", root)
        raise Later(
            f"The disk of the house takes no more photos and files ({error.strerror}). Tell house staff, then send it "
            "again; without them the answer can be sent."
        ) from error


def path_of(site: Site, place: str) -> pathlib.Path | None:
    """Where a proof's content lies; ``None`` when it is not there or not this site's."""
    home = (folder() / str(site.pk)).resolve()
    path = (folder() / place).resolve()
    if place and path.is_relative_to(home) and path.is_file():
        return path
    return None
