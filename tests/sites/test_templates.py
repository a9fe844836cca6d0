"""Templates: text that can be read in their files, the same page without their indents in a browser."""

import pathlib
import re
from types import SimpleNamespace

import pytest
from django.template import Context, Template, TemplateSyntaxError
from django.template.loader import get_template
from django.urls import NoReverseMatch
from html5lib import parse

from sites.pages.extras import CAPACITY
from sites.web.templates import without_indents
from tests.long.seen import lines_seen

FOLDER = pathlib.Path(__file__).resolve().parents[2] / "templates"
FILES = sorted(FOLDER.rglob("*.html"))
LONGEST = 120


def test_there_are_templates():
    assert len(FILES) > 100


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(FOLDER)))
def test_every_template_shows_the_same_without_its_indents(path):
    text = path.read_text().replace(" <= ", " no more than ")  # no tag begins there
    assert lines_seen(without_indents(text)) == lines_seen(text)
    get_template(str(path.relative_to(FOLDER)))


@pytest.mark.parametrize(
    ("laid_out", "sent"),
    [
        ("<p>\n  One\n  two\n</p>\n", "<p>One two</p>"),
        (
            "<ul>\n  <li>\n    <a\n      href='x'\n    >y</a>\n  </li>\n</ul>",
            "<ul><li><a href='x'>y</a></li></ul>",
        ),
        ("<p>\n  a\n  <b>c</b>\n  d\n</p>", "<p>a <b>c</b> d</p>"),
        (
            "{% if a %}\n  <p>b</p>\n{% endif %}\n{% if c %}",
            "{% if a %}<p>b</p>{% endif %} {% if c %}",
        ),
        (
            "<p>\n  {% if a > b %}\n    c\n  {% endif %}\n</p>",
            "<p>{% if a > b %} c {% endif %}</p>",
        ),
        ("<pre>\n a\n  b</pre>\n<i>c</i>", "<pre>\n a\n  b</pre> <i>c</i>"),
        ("<textarea>\n  a\n  b</textarea>", "<textarea>\n  a\n  b</textarea>"),
        ("a  b", "a  b"),
    ],
)
def test_indents_go_and_words_stay_apart(laid_out, sent):
    assert without_indents(laid_out) == sent


def test_a_page_goes_without_indents_and_is_whole(client, db):
    page = client.get("/", follow=True).content.decode()
    assert "\n  " not in page and "<title>Sign in" in page
    assert parse(page, namespaceHTMLElements=False).find(".//main") is not None


def shown(text: str, **values) -> str:
    return Template(text).render(Context(values))


def test_joined_items_have_something_between_them():
    text = "{% joined names as name %}\n  <b>{{ name }}</b>\n{% endjoined %}"
    assert shown(text, names=["a", "<"]) == "<b>a</b>, <b>&lt;</b>"
    assert shown(text, names=["a"]) == "<b>a</b>"
    assert shown(text, names=[]) == shown(text) == ""


def test_joined_items_beyond_the_most_are_counted():
    text = "{% joined names as name by '; ' most 2 %}{{ name }}{% endjoined %}"
    assert shown(text, names="abc") == "a; b; and 1 more"
    assert shown(text, names="ab") == "a; b"
    with_rest = "{% joined names as name most 1 rest ' ' %}{{ name }}{% endjoined %}"
    assert shown(with_rest, names="abc") == "a and 2 more"


@pytest.mark.parametrize(
    "wrong", ["names", "names as", "names like name", "names as name by", "names as name from 1"]
)
def test_joined_says_what_it_does_not_understand(wrong):
    with pytest.raises(TemplateSyntaxError):
        Template(f"{{% joined {wrong} %}}{{% endjoined %}}")


@pytest.mark.parametrize(
    ("tag", "named", "look"),
    [
        ("who", 'aria-label="A &lt; B"', "ledger"),
        ("who region='Who'", 'aria-label="Who"', "ledger"),
        ("who headed_by='hosts'", 'aria-labelledby="h-hosts"', "ledger"),
        ("'A ' '< B' look='wide'", 'aria-label="A &lt; B"', "ledger wide"),
    ],
)
def test_a_ledger_says_what_it_holds(tag, named, look):
    page = shown("{% ledger " + tag + " %}<tr></tr>{% endledger %}", who="A < B")
    assert page == (
        f'<div class="scroll" role="region" {named} tabindex="0"><table class="{look}">'
        '<caption class="unseen">A &lt; B</caption><tr></tr></table></div>'
    )


@pytest.mark.parametrize("tag", ["", "look='wide'", "'A' colour='red'"])
def test_a_ledger_without_a_caption_or_with_something_else_is_a_fault(tag):
    with pytest.raises(TemplateSyntaxError):
        shown("{% ledger " + tag + " %}{% endledger %}")


SITE = SimpleNamespace(code="mill", customer=SimpleNamespace(code="larkfield"))


@pytest.mark.parametrize(
    ("options", "form"),
    [
        ("", '<form method="post" action="/you/sessions/end"><button>End &lt; it</button></form>'),
        (
            "form='actions' look='quiet' in_line=True",
            '<form method="post" class="actions" action="/you/sessions/end"><p class="actions">'
            '<button class="quiet">End &lt; it</button></p></form>',
        ),
    ],
)
def test_a_button_that_does_one_thing_by_itself(options, form):
    text = "{% post_button 'you-sessions-end' " + options + " %}End {{ it }}{% endpost_button %}"
    assert shown(text, it="< it") == form


def test_such_a_button_at_a_site_proves_where_it_came_from_and_counts_once():
    text = "{% post_button 'bring-back' 7 at=site counts_once=True %}Back{% endpost_button %}"
    page = shown(text, site=SITE, csrf_token="proof")
    assert 'action="/at/larkfield/mill/bring-back/7"' in page
    assert '<input type="hidden" name="csrfmiddlewaretoken" value="proof">' in page
    assert '<input type="hidden" name="once" value="' in page


@pytest.mark.parametrize("tag", ["", "look='quiet'", "'you-sessions-end' colour='red'"])
def test_such_a_button_without_an_address_or_with_something_else_is_a_fault(tag):
    with pytest.raises(TemplateSyntaxError):
        shown("{% post_button " + tag + " %}{% endpost_button %}")


def test_an_address_at_the_site_of_a_page():
    assert shown("{% site_url 'chapter' 'brief' %}", site=SITE) == "/at/larkfield/mill/brief/"
    with pytest.raises(NoReverseMatch):
        shown("{% site_url 'nowhere' %}", site=SITE)


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(FOLDER)))
def test_an_address_at_a_site_is_told_in_one_way(path):
    assert "site.customer.code site.code" not in path.read_text()


# -- what is written once for a plan -------------------------------------------------------------

OF_PLAN = re.compile(r"{% of_plan (\S+) (.*?)%}", re.S)
INCLUDED = re.compile(r'{% include "([^"]+)"')
OF_SOMEBODY = re.compile(
    r"csrf_token|{% (?:once|crispy|post_button)|\brequest\b|\buser\b|\bmessages\b|access\.person|perms\."
)
NAMED_WITHIN = [  # by what they show: a part of a chapter, a section of chapter 8
    "workbook/_single.html",
    "workbook/_table.html",
    *(f"workbook/chapters/capacity/{key}.html" for key in CAPACITY),
]


def with_included(name: str) -> set[str]:
    text = (FOLDER / name).read_text()
    return {name}.union(*(with_included(one) for one in INCLUDED.findall(text)))


def shared_templates() -> set[str]:
    named = [name for path in FILES for name, _ in OF_PLAN.findall(path.read_text())]
    quoted = {name.strip('"') for name in named if name.startswith('"')}
    assert {name for name in named if not name.startswith('"')} == {"part.template"}
    return quoted | set(NAMED_WITHIN)


@pytest.mark.parametrize("name", sorted(shared_templates()))
def test_what_is_written_once_for_all_is_nobodys(name):
    """Such a template sees neither who asks nor what their request carries; where it would show it, it stands in a
    branch that is only reached while somebody types or a row has a button, and then it is not shared."""
    for one in with_included(name) - {"addresses/_take.html"}:
        text = (FOLDER / one).read_text()
        for start, end in NOT_SHARED.get(one, ()):
            begin = text.index(start)
            text = text[:begin] + text[text.index(end, begin) :]
        found = OF_SOMEBODY.findall(text)
        assert not found, f"{one}: {found}"


NOT_SHARED = {
    "workbook/_single.html": [("{% if row.form %}", "{% else %}")],
    "workbook/_table.html": [
        ("{% if row.form %}", "{% else %}"),
        ("{% if part.adding %}", "{% endif %}"),
    ],
    "addresses/_claims.html": [("{% if request.htmx %}", "{% endif %}")],
}
