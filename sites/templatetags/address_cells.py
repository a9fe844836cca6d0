"""Cells of chapter 9's long tables. They are written here because a template takes several times as long, a row."""

from __future__ import annotations

from collections.abc import Iterable

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from sites.pages.addresses import ClaimRow, MissingRow
from sites.pages.port_rows import Port

register = template.Library()


@register.filter
def whose(row: ClaimRow | MissingRow) -> str:
    """Whose an address is, with a link to the record: every page that shows this lies one step below the site, so
    its chapters are beside it."""
    if row.place is None:
        return row.who
    return format_html('<a href="../{}/#{}">{}</a>', row.place.slug, row.place.anchor, row.who)


@register.filter
def claim_cells(row: ClaimRow, here: str) -> SafeString:
    """The first cells of a claim: the address, linked to its place on the strip, who claims it, the network."""
    text = row.claim.text
    if row.link:
        address = format_html('<a href="{}?{}#strip">{}</a>', here, row.link, text)
    else:
        address = text
    return format_html(
        '<th scope="row">{}</th><td>{}<span class="soft beneath">{}</span></td><td>{}</td>',
        address,
        whose(row),
        row.what,
        row.network,
    )


@register.filter
def openings(ports: Iterable[Port]) -> SafeString:
    """The lines of one row of the port sheet: number, port and protocol, the port's registered name."""
    return format_html_join(
        "",
        '<li><span class="line-number">{}<span class="unseen">:</span></span> <span><b>{}</b>{}</span></li>',
        ((one.number, one.words, _soft(one.iana)) for one in ports),
    )


def _soft(words: str) -> str:
    if words:
        return format_html(' <span class="soft">{}</span>', words)
    return ""
