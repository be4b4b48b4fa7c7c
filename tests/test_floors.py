"""The house stands on floors: no package imports from a later stage, no module in a circle.

Whoever adds a package gives it a floor here, and draws it into the map of DEVELOPERS.md.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
# From the lowest up. Packages and the modules at the root alike: what stands here may import only
# what stands before it.
FLOORS = (
    "errors",
    "util",
    "theory",
    "smf",
    "song",
    "sound",
    "hear",
    "audio",
    "readings",
    "fixes",
    "rulebook",
    "judging",
    "mending",
    "waivers",
    "settings",
    "checking",
    "audition",
    "report",
    "batch",
    "api",
    "watch",
    "cli",
    "__main__",
)


def modules(home: Path) -> dict[str, Path]:
    """Every module of the package by its dotted name."""
    found = {}
    for path in sorted(home.rglob("*.py")):
        words = path.relative_to(home.parent).with_suffix("").parts
        found[".".join(words[:-1] if words[-1] == "__init__" else words)] = path
    return found


def imports(name: str, text: str, known: set[str]) -> Iterator[str]:
    """The modules of the package that a module imports, anywhere: inside functions and for the type
    checker alone as well."""
    for node in ast.walk(ast.parse(text)):
        targets: list[str] = []
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name}: write the whole name of what is imported"
            module = node.module or ""
            targets = [t if (t := f"{module}.{a.name}") in known else module for a in node.names]
        elif isinstance(node, ast.Import):
            targets = [alias.name for alias in node.names]
        yield from (target for target in targets if target in known and target != name)


HOME = ROOT / "basslint"
# A method that hands its object on to a later module of the same package, and imports it only then.
DOORS = {("basslint.song.arrangement", "basslint.song.export")}
MODULES = modules(HOME)
EDGES = [
    (name, target)
    for name, path in MODULES.items()
    for target in imports(name, path.read_text("utf-8"), set(MODULES))
    if (name, target) not in DOORS
]


def floor(name: str) -> int:
    """The floor of a module; the package's own face, which has only the version, is the ground."""
    words = name.split(".")
    return FLOORS.index(words[1]) if len(words) > 1 else -1


def upwards(edges: list[tuple[str, str]]) -> list[str]:
    """Imports from a later stage, wherever in the file they stand."""
    return [
        f"{name} imports {target}"
        for name, target in edges
        if name != "basslint" and floor(target) > floor(name)
    ]


def circle(edges: list[tuple[str, str]], depth: int | None = None) -> list[str]:
    """A circle of imports, by names or their first ``depth`` words; empty where none is."""
    graph: dict[str, set[str]] = {}
    for name, target in edges:
        one, other = (".".join(n.split(".")[:depth]) for n in (name, target))
        if one not in (other, "basslint"):
            graph.setdefault(one, set()).add(other)
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def not_there(package: str) -> set[str]:
    """What the ``__all__`` of a package names, and is neither a module of it nor made in it."""
    made = set()
    for node in ast.walk(ast.parse(MODULES[package].read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom):
            made |= {alias.asname or alias.name for alias in node.names}
        elif isinstance(node, ast.FunctionDef | ast.ClassDef):
            made.add(node.name)
        elif isinstance(node, ast.Assign):
            made |= {ast.unparse(target) for target in node.targets}
    inside = {name.rpartition(".")[2] for name in MODULES if name.rpartition(".")[0] == package}
    return offered(package) - made - inside


def offered(package: str) -> set[str]:
    """What the ``__all__`` of a package names."""
    for node in ast.parse(MODULES[package].read_text("utf-8")).body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__":
            return set(ast.literal_eval(node.value))
    return set()


def through_walls(edges: list[tuple[str, str]]) -> list[str]:
    """Imports, from outside a package, of what its ``__all__`` does not name."""
    wrong = []
    for name, target in edges:
        package, _, module = target.rpartition(".")
        outside = package not in ("", "basslint") and not name.startswith(f"{package}.")
        if outside and MODULES[target].name != "__init__.py" and module not in offered(package):
            wrong.append(f"{name} imports {target}: name “{module}” in {package}.__all__")
    return wrong


def test_other_packages_use_what_a_package_offers() -> None:
    assert through_walls(EDGES) == []
    assert through_walls([("basslint.cli.main", "basslint.hear.harmony.few_tones")]) != []


def test_what_a_package_offers_is_there_and_asked_for() -> None:
    asked = {
        target for name, target in EDGES if not name.startswith(target.rpartition(".")[0] + ".")
    }
    for package in {n for n, path in MODULES.items() if path.name == "__init__.py"} - {"basslint"}:
        assert not_there(package) == set(), f"{package}.__all__ names what is not there"
        modules = {f"{package}.{module}" for module in offered(package)} & set(MODULES)
        assert modules <= asked, f"{package}.__all__ names what nobody uses"
        assert offered(package) or not any(t.startswith(f"{package}.") for t in asked)


def test_every_package_has_a_floor() -> None:
    rooms = {name.split(".")[1] for name in MODULES if "." in name}
    assert rooms == set(FLOORS)


def test_nothing_imports_from_a_later_stage() -> None:
    assert upwards(EDGES) == []


@pytest.mark.parametrize("depth", [2, None], ids=["packages", "modules"])
def test_no_imports_go_in_a_circle(depth: int | None) -> None:
    assert circle(EDGES, depth) == []


def test_rooms_inside_hear_and_report_go_in_no_circle() -> None:
    for home in ("basslint.hear.", "basslint.report."):
        inside = [e for e in EDGES if e[0].startswith(home) and e[1].startswith(home)]
        assert circle(inside, 3) == []


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("from basslint.cli.main import main", True),
        ("def late():\n    from basslint.report.section import Section", True),
        ("from basslint.hear import chart", False),
        ("from basslint.errors import UsageError", False),
    ],
)
def test_the_test_sees_what_it_looks_for(text: str, wrong: bool) -> None:
    name = "basslint.readings.notes"
    edges = [(name, target) for target in imports(name, text, set(MODULES))]
    assert len(edges) == 1
    assert bool(upwards(edges)) == wrong
    assert circle([*EDGES, *edges]) == [] or wrong


def test_a_circle_is_seen() -> None:
    back = ("basslint.errors", "basslint.util.files")
    assert "basslint.errors" in circle([*EDGES, back])
    assert "basslint.errors" in circle([*EDGES, back], 2)
