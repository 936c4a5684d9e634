"""Every function, class and constant of the app is used by the app: tests alone are no use."""

import ast
import re
from collections.abc import Iterator

from tests.house.source import module_of, nodes, trees
from tests.paths import ROOT

# Found by a decorator or by name: routes, verbs and their groups, what SQLAlchemy and uvicorn call.
FOUND_BY = (
    "router.",
    "app.",
    "gauge.",
    "cli.",
    "archive.",
    "person.",
    "settings.",
    "sa.event.",
    "event.",
    "listens_for",
)
IDLE = {
    "app.hydraulics.gauging.tracer.salt_mass_kg": "twin of the phone's, by vectors",
    "app.hydraulics.rating.curve.interpolate": "how the phone reads its table, by vectors",
    "app.hydraulics.install.stilling_well.well_lag": "published relation; no page yet",
    "app.hydraulics.install.stilling_well.well_openings": "published relation; no page yet",
}


def outside() -> set[str]:
    """Return the words of templates, migrations and the package's own entry points."""
    files = [*(ROOT / "templates").rglob("*.html"), *(ROOT / "migrations").rglob("*.py")]
    texts = [path.read_text("utf-8") for path in [*files, ROOT / "pyproject.toml"]]
    return {word for text in texts for word in re.findall(r"\w+", text)}


def defined(tree: ast.Module) -> Iterator[tuple[str, ast.stmt]]:
    for node in tree.body:
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            marks = [ast.unparse(mark) for mark in node.decorator_list]
            if not any(mark.startswith(FOUND_BY) for mark in marks):
                yield node.name, node
        elif isinstance(node, ast.Assign):
            names = [x.id for t in node.targets for x in ast.walk(t) if isinstance(x, ast.Name)]
            yield from ((name, node) for name in names if not name.startswith("__"))
        elif isinstance(node, ast.AnnAssign):
            yield ast.unparse(node.target), node


def strings(node: ast.AST) -> Iterator[str]:
    """Yield names written as text: annotations in quotes and the table of verbs."""
    for part in ast.walk(node):
        text = part.value if isinstance(part, ast.Constant) else None
        if isinstance(text, str) and re.fullmatch(r"[\w.:\[\]| \"']{1,80}", text):
            yield from re.findall(r"\w+", text)


def used() -> dict[str, set[str]]:
    """Return for every module the names of it that some file uses."""
    found: dict[str, set[str]] = {module_of(path): set() for path in trees()}
    for path, tree in trees().items():
        own = module_of(path)
        homes = {}  # local name of a module: the module
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and node.module in found:
                found[node.module] |= {alias.name for alias in node.names}
            if isinstance(node, ast.ImportFrom):
                for alias in node.names:
                    module = f"{node.module}.{alias.name}"
                    if module in found:
                        homes[alias.asname or alias.name] = module
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                home = homes.get(node.value.id)
                if home:
                    found[home].add(node.attr)
        for top in tree.body:
            inside = {getattr(top, "name", "")}  # a function that calls itself is not used by that
            for node in ast.walk(top):
                if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
                    found[own] |= {node.id} - inside
            found[own] |= set(strings(top)) - inside
    return found


def addressed() -> set[str]:
    """Return the functions named as text by address: `serve:serve`, `app.worker:application`."""
    return {
        node.value.split(":")[1]
        for _, node in nodes(ast.Constant)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and re.fullmatch(r"[a-z_.]+:[a-z_]+", node.value)
    }


def test_nothing_of_the_app_is_idle() -> None:
    by_name, known, idle = used(), outside() | addressed(), []
    for path, tree in trees().items():
        module = module_of(path)
        for name, _ in defined(tree):
            if name not in by_name[module] and name not in known and module != "app.records":
                idle.append(f"{module}.{name}")
    assert sorted(idle) == sorted(IDLE), "use it, drop it, or say why it stays"
