"""How forms are laid out, with the pieces of the pack ``deskwright``."""

from __future__ import annotations

import functools
from collections.abc import Iterable

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Layout, LayoutObject
from crispy_forms.utils import TEMPLATE_PACK
from django import forms
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from planner.record.chapters import Field, Section


class LeftOut(Exception):
    """A layout leaves out a field of its form."""


class Whole(FormHelper):
    """Shows every field of a form; its page holds the form's tag and its buttons."""

    form_tag = False
    form_action = ""  # an address, never a name to look one up by

    def __init__(self, *pieces: str | LayoutObject):
        super().__init__()
        self.layout = Layout(*pieces)

    def render_layout(self, form, context, template_pack=TEMPLATE_PACK) -> SafeString:
        """Raises :class:`LeftOut` where a field is not shown: what nobody can fill in is a fault."""
        shown = super().render_layout(form, context, template_pack=template_pack)
        left = form.fields.keys() - form.rendered_fields
        if left:
            raise LeftOut(f"{type(form).__name__} does not show {', '.join(sorted(left))}")
        return shown


class Laid:
    """A form that lays itself out: what is hidden, then its fields in their order."""

    fields: dict[str, forms.Field]

    def pieces(self) -> list[str | LayoutObject]:
        return sorted(self.fields, key=lambda name: not self.fields[name].widget.is_hidden)

    @functools.cached_property
    def helper(self) -> FormHelper:
        return Whole(*self.pieces())


class Piece(LayoutObject):
    """Fields within a template of the pack, which reads ``words``."""

    template = ""

    def __init__(self, *fields: str | LayoutObject, **words):
        self.fields, self.words = list(fields), words

    def render(self, form, context, template_pack=TEMPLATE_PACK, **kwargs) -> SafeString:
        inside = self.get_rendered_fields(form, context, template_pack, **kwargs)
        words = {**context.flatten(), **self.words, "form": form, "inside": inside}
        return render_to_string(f"{template_pack}/layout/{self.template}", words)


class Ledger(Piece):
    """Fields beside each other, as their columns stand."""

    template = "ledger.html"


class Group(Piece):
    """Fields under a heading, ``title``."""

    template = "group.html"


class More(Piece):
    """What is folded away under ``title`` until somebody looks, unless it is ``open`` or something is wrong."""

    template = "more.html"


class Part(Piece):
    """Fields of a part of a page, under its heading ``title``; the first part has none."""

    template = "part.html"


class Shaped(LayoutObject):
    """Fields that one template of their own shows, all together: a grid, an answer with its buttons."""

    def __init__(self, template: str, *names: str, **words):
        self.template, self.fields, self.words = template, list(names), words

    def render(self, form, context, template_pack=TEMPLATE_PACK, **kwargs) -> SafeString:
        form.rendered_fields.update(self.fields)
        return render_to_string(self.template, {**context.flatten(), **self.words, "form": form})


class Once(Piece):
    """What makes a form that is sent twice count once."""

    template = "once.html"


class Actions(Piece):
    """The buttons: save, or go back to ``leave``."""

    template = "actions.html"


def groups(fields: Iterable[Field], piece: type[Piece] = Group) -> list[Piece]:
    """Fields under the headings that they name, in their order."""
    under: dict[str, list[str]] = {}
    for one in fields:
        under.setdefault(one.group, []).append(one.name)
    return [piece(*names, title=title) for title, names in under.items()]


def helper_for(section: Section, action: str, *, leave: str, new: bool, told: bool) -> Whole:
    """The layout of a section's form: its ledger's columns, the rest folded away unless some of it is ``told``.

    It is sent to ``action``; ``leave`` is where it is left to.
    """
    if section.single:
        names = [one.name for one in section.fields]
    else:
        names = []
    helper = Whole("edits", *names)
    if new:
        helper.layout.insert(0, Once())
    if section.single:
        helper.layout.append(Actions(leave=leave))
    else:
        title = f"More about this {section.one}"
        helper.layout.extend(
            [
                Ledger(*(one.name for one in section.ledger)),
                More(*groups(section.rest), title=title, open=told),
                Actions(leave=leave, hint="Enter saves the row, Esc leaves it"),
            ]
        )
    helper.form_tag = True
    helper.form_class = "record"
    helper.form_action = action
    helper.attrs = {
        "novalidate": True,
        "data-guard": True,
        "hx-post": action,
        "hx-target": "#workbook",
        "hx-swap": "outerHTML",
    }
    return helper
