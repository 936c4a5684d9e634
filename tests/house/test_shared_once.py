"""A small thing is written once: a type of array, a limit, a word, an equation's constant."""

import ast
from collections import defaultdict
from collections.abc import Iterator

from tests.house.source import module_of, trees

# The same name stands in each of these files for the file's own part of one contract.
ONE_A_FILE = {"FAMILY", "SIZES", "router", "log"}


def constants() -> Iterator[tuple[str, str, ast.expr]]:
    """Yield module, name and value of what is defined at the top of a file."""
    for path, tree in trees().items():
        for node in tree.body:
            if isinstance(node, ast.Assign):
                found, value = [t.id for t in node.targets if isinstance(t, ast.Name)], node.value
            elif isinstance(node, ast.AnnAssign) and node.value is not None:
                found, value = [ast.unparse(node.target)], node.value
            else:
                continue
            yield from ((module_of(path), name, value) for name in found)


def test_no_constant_and_no_alias_is_written_twice() -> None:
    held: dict[tuple[str, str], list[str]] = defaultdict(list)
    for module, name, value in constants():
        if name not in ONE_A_FILE:
            held[name, ast.dump(value)].append(module)
    twice = {key[0]: modules for key, modules in held.items() if len(modules) > 1}
    assert not twice, f"the same thing under the same name: {twice}"


def test_no_type_has_two_names() -> None:
    held: dict[str, list[str]] = defaultdict(list)
    for module, name, value in constants():
        text = ast.unparse(value)
        if text.startswith(("NDArray[", "npt.NDArray[", "Callable[", "TypeVar(")):
            held[text.removeprefix("npt.")].append(f"{module}.{name}")
    twice = {text: names for text, names in held.items() if len(names) > 1}
    assert not twice, twice


def test_a_shared_name_means_one_thing() -> None:
    """A name that other files import stands for nothing else in any file of the app."""
    home: dict[str, set[str]] = defaultdict(set)
    for module, name, _ in constants():
        home[name].add(module)
    shared: dict[str, set[str]] = defaultdict(set)
    for tree in trees().values():
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom):
                for alias in node.names:
                    if alias.name in home and node.module in home[alias.name]:
                        shared[alias.name].add(node.module)
    clashes = {
        name: sorted(home[name])
        for name in shared
        if len(home[name]) > 1 and name not in ONE_A_FILE
    }
    assert not clashes, f"one name, two things: {clashes}"


def test_students_t_is_worked_out_in_one_place() -> None:
    named = [path for path, tree in trees().items() if "two_sided" in ast.unparse(tree)]
    made = [
        path
        for path, tree in trees().items()
        for node in tree.body
        if isinstance(node, ast.FunctionDef)
        and ("student" in node.name or node.name == "two_sided")
    ]
    assert set(made) == {"app/hydraulics/base/student.py"}
    assert len(named) > 1  # and others ask it
