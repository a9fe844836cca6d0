"""Repeated shapes of the pages: what many templates would otherwise write out each for itself."""

from __future__ import annotations

from django import template
from django.template.base import (
    FilterExpression,
    Node,
    NodeList,
    Parser,
    Token,
    kwarg_re,
    token_kwargs,
)
from django.template.context import Context
from django.template.defaulttags import CsrfTokenNode
from django.urls import get_script_prefix, reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from sites.pages import plans
from sites.templatetags.deskwright import once

register = template.Library()


@register.filter
def laid_out(form) -> SafeString:
    """What a form's layout shows. A form that has none would show nothing and tell nobody: it raises."""
    return form.form_html


@register.simple_tag(takes_context=True)
def site_url(context: Context, name: str, *args: object) -> str:
    """The address of something at the page's site: ``{% site_url 'chapter' 'brief' %}``."""
    site = context["site"]
    return reverse(name, args=[site.customer.code, site.code, *args])


class Joined(Node):
    """Items one after another in a line of text."""

    def __init__(self, items: FilterExpression, name: str, options: dict, inside: NodeList):
        self.items, self.name, self.options, self.nodelist = items, name, options, inside

    def render(self, context: Context) -> SafeString:
        items = list(self.items.resolve(context) or ())
        options = {key: value.resolve(context) for key, value in self.options.items()}
        between = options.get("by", ", ")
        most = options.get("most", len(items))
        shown = []
        for item in items[:most]:
            with context.push(**{self.name: item}):
                shown.append(self.nodelist.render(context).strip())
        text = between.join(shown)
        if len(items) > most:
            text += f"{options.get('rest', between)}and {len(items) - most} more"
        return mark_safe(text)  # noqa: S308  (made by a template, which escapes what people typed)


@register.tag
def joined(parser: Parser, token: Token) -> Joined:
    """``{% joined checks as check by ", " most 24 %}…{% endjoined %}``: each check as the inside says, with commas
    between; of more than 24 how many more there are, after a comma too or after what ``rest`` says."""
    words = token.split_contents()
    if len(words) < 4 or words[2] != "as" or len(words) % 2:
        raise template.TemplateSyntaxError("joined: items as name, then by, most, rest in pairs")
    options = {}
    for key, value in zip(words[4::2], words[5::2], strict=True):
        if key not in ("by", "most", "rest"):
            raise template.TemplateSyntaxError(f"joined knows no {key}")
        options[key] = parser.compile_filter(value)
    inside = parser.parse(("endjoined",))
    parser.delete_first_token()
    return Joined(parser.compile_filter(words[1]), words[3], options, inside)


LEDGER = (
    '<div class="scroll" role="region" {} tabindex="0"><table class="{}">'
    '<caption class="unseen">{}</caption>{}</table></div>'
)


class Ledger(Node):
    """A table that scrolls within its page where the page is narrow, and says what it holds."""

    def __init__(self, caption: list[FilterExpression], options: dict, inside: NodeList):
        self.caption, self.options, self.nodelist = caption, options, inside

    def render(self, context: Context) -> SafeString:
        caption = "".join(str(part.resolve(context)) for part in self.caption)
        options = {key: value.resolve(context) for key, value in self.options.items()}
        if "headed_by" in options:
            named = format_html('aria-labelledby="h-{}"', options["headed_by"])
        else:
            named = format_html('aria-label="{}"', options.get("region", caption))
        if "look" in options:
            look = f"ledger {options['look']}"
        else:
            look = "ledger"
        return format_html(LEDGER, named, look, caption, self.nodelist.render(context))


@register.tag
def ledger(parser: Parser, token: Token) -> Ledger:
    """``{% ledger "Sites of " customer region="Sites" look="wide" %}<thead>…</tbody>{% endledger %}``: a table with the
    caption that its words make together. Its region bears the caption's name, that of ``region``, or the heading of the
    section ``headed_by``; ``look`` are its further classes."""
    words = token.split_contents()[1:]
    caption = [parser.compile_filter(word) for word in words if not kwarg_re.match(word)[1]]
    options = token_kwargs(words[len(caption) :], parser)
    if not caption or not options.keys() <= {"region", "look", "headed_by"}:
        raise template.TemplateSyntaxError(f"ledger: a caption, then options: {token.contents}")
    inside = parser.parse(("endledger",))
    parser.delete_first_token()
    return Ledger(caption, options, inside)


BUTTON = '<form method="post"{} action="{}">{}{}</form>'
BUTTON_OPTIONS = {"at", "look", "form", "in_line", "counts_once"}


class PostButton(Node):
    """A button that does one thing by itself: a form of its own, with nothing else in it."""

    def __init__(self, to: list[FilterExpression], options: dict, words: NodeList):
        self.to, self.options, self.nodelist = to, options, words

    def render(self, context: Context) -> SafeString:
        options = {key: value.resolve(context) for key, value in self.options.items()}
        name, *args = (part.resolve(context) for part in self.to)
        if "at" in options:
            args = [options["at"].customer.code, options["at"].code, *args]
        token = CsrfTokenNode().render(context)
        if options.get("counts_once"):
            token += once(context)
        words = self.nodelist.render(context)
        button = format_html("<button{}>{}</button>", _class(options.get("look")), words)
        if options.get("in_line"):
            button = format_html('<p class="actions">{}</p>', button)
        address = reverse(name, args=args)
        return format_html(BUTTON, _class(options.get("form")), address, token, button)


def _class(words: str | None) -> SafeString | str:
    if words:
        return format_html(' class="{}"', words)
    return ""


@register.tag
def post_button(parser: Parser, token: Token) -> PostButton:
    """``{% post_button "bring-back" removal.pk at=site %}Bring it back{% endpost_button %}``: a button that is sent to
    an address, ``at`` a site or not. ``look`` is its class, ``form`` that of its form; ``in_line`` puts it into a line
    of actions, and with ``counts_once`` it counts once, pressed twice."""
    words = token.split_contents()[1:]
    to = [parser.compile_filter(word) for word in words if not kwarg_re.match(word)[1]]
    options = token_kwargs(words[len(to) :], parser)
    if not to or not options.keys() <= BUTTON_OPTIONS:
        raise template.TemplateSyntaxError(
            f"post_button: an address, then options: {token.contents}"
        )
    inside = parser.parse(("endpost_button",))
    parser.delete_first_token()
    return PostButton(to, options, inside)


class OfPlan(Node):
    """A template that shows what follows from the plan. It sees what the tag names, and no more: whoever asks, and
    what their request carries, is not to be seen in what others are shown too."""

    def __init__(
        self, name: FilterExpression, by: list[FilterExpression], like: list[str], seen: list[str]
    ):
        self.name, self.by, self.like, self.seen = name, by, like, seen

    def render(self, context: Context) -> SafeString:
        name, plan = self.name.resolve(context), context["plan"]
        key = ("shown", name, get_script_prefix(), *(one.resolve(context) for one in self.by))

        def show() -> SafeString:
            if self.like:
                seen = [*self.like, *self.seen]
            else:
                seen = ["plan", *self.seen]
            shown = context.template.engine.get_template(name)
            return shown.render(context.new({word: context[word] for word in seen}))

        if not self.like:
            return plans.once(plan, key, show)
        return plans.while_alike(plan, key, [context[word] for word in self.like], show)


@register.tag
def of_plan(parser: Parser, token: Token) -> OfPlan:
    """``{% of_plan "a.html" by section.slug access.role with section access %}``: the template, written once for a plan
    and whatever ``by`` says. With ``like part`` it does not see the plan, and what it came to is taken again for the
    next plan as long as the part is equal: then ``with`` names only what is told apart by ``by``, and the site."""
    _, name, *words = token.split_contents()
    told: dict[str, list[str]] = {"by": [], "like": [], "with": []}
    for word in words:
        if word in told:
            into = told[word]
        else:
            into.append(word)
    by = [parser.compile_filter(word) for word in told["by"]]
    return OfPlan(parser.compile_filter(name), by, told["like"], told["with"])
