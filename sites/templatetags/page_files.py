"""The styles and modules of a page, as links in its head."""

from __future__ import annotations

from django import template
from django.templatetags.static import static
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from sites.web.static_files import RUN_STYLES, STYLES, modules_of_a_page

register = template.Library()


def _links(kind: str, names: list[str] | tuple[str, ...]) -> SafeString:
    addresses = [(kind, static(name)) for name in names]
    return format_html_join("\n", '<link rel="{}" href="{}">', addresses)


@register.simple_tag
def styles() -> SafeString:
    """The styles of every page."""
    return _links("stylesheet", STYLES)


@register.simple_tag
def run_styles() -> SafeString:
    """What run sheets wear beyond that."""
    return _links("stylesheet", RUN_STYLES)


@register.simple_tag
def module(entry: str) -> SafeString:
    """A module that the page begins with. What it imports is fetched beside it, not one after the other."""
    *imported, _ = modules_of_a_page(entry)
    script = format_html('<script type="module" src="{}"></script>', static(entry))
    if not imported:
        return script
    return _links("modulepreload", imported) + format_html("\n{}", script)
