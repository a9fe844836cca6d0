"""Repeated shapes of the pages: what many templates would otherwise write out each for itself."""

from __future__ import annotations

from django import template
from django.template.base import FilterExpression, Node, NodeList, Parser, Token
from django.template.context import Context
from django.urls import get_script_prefix
from django.utils.safestring import SafeString, mark_safe

from sites.pages.plans import once, while_alike

register = template.Library()


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
            seen = [*self.like, *self.seen] if self.like else ["plan", *self.seen]
            shown = context.template.engine.get_template(name)
            return shown.render(context.new({word: context[word] for word in seen}))

        if not self.like:
            return once(plan, key, show)
        return while_alike(plan, key, [context[word] for word in self.like], show)


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
