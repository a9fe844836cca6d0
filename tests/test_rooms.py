"""The rooms of the house, in order: an import only ever points up the list, wherever it stands."""

import ast
import collections
import pathlib

import networkx

ROOT = pathlib.Path(__file__).parents[1]
PLANNER = (
    "record",
    "catalogue",
    "engine",
    "stages",
    "review",
    "plan",
    "comparing",
    "papers",
    "exchange",
)
SITES = (
    "models",
    "loading",
    "access",
    "web",
    "forms",
    "actions",
    "intake",
    "pages",
    "viewing",
    "views",
)
ORDER = [*(f"planner.{room}" for room in PLANNER), *(f"sites.{room}" for room in SITES)]


def modules() -> dict[str, pathlib.Path]:
    """Every module of the product by its dotted name, but for migrations."""
    found = {}
    for path in sorted([*(ROOT / "planner").rglob("*.py"), *(ROOT / "sites").rglob("*.py")]):
        parts = path.relative_to(ROOT).with_suffix("").parts
        if "migrations" not in parts:
            found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


MODULES = modules()


def imported(path: pathlib.Path) -> set[str]:
    """The modules that a file names: at its top, inside a function, for the types alone."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            whole = {f"{node.module}.{name.name}" for name in node.names}
            found |= {name if name in MODULES else node.module for name in whole}
    return found & set(MODULES)


GRAPH = networkx.DiGraph(
    (name, other) for name, path in MODULES.items() for other in imported(path) if other != name
)


def room(module: str) -> str:
    return ".".join(module.split(".")[:2])


def test_no_circle_among_files():
    rings = [ring for ring in networkx.strongly_connected_components(GRAPH) if len(ring) > 1]
    assert rings == []


def test_every_room_stands():
    assert set(ORDER) <= {room(module) for module in MODULES}


def test_imports_point_up_the_list():
    against = collections.Counter()
    for module, other in GRAPH.edges:
        rooms = room(module), room(other)
        if set(rooms) <= set(ORDER) and ORDER.index(rooms[1]) > ORDER.index(rooms[0]):
            against[rooms] += 1
    assert against == {}


def test_planner_knows_nothing_of_the_web():
    """But for the one file that says which view answers which address."""
    assert {
        module
        for module, other in GRAPH.edges
        if module.startswith("planner.") and other.startswith("sites")
    } == {"planner.urls"}


def test_no_view_imports_a_view():
    views = [pair for pair in GRAPH.edges if all(name.startswith("sites.views.") for name in pair)]
    assert views == []
