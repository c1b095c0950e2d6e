"""Who opens files: two modules of the ground floor, and what is named here with its reason."""

from __future__ import annotations

import ast
from pathlib import Path

import boardgen

ROOT = Path(boardgen.__file__).parent
DOORS = {"readfile.py", "filing.py"}
NAMED = {
    ("cli/guard.py", "open"): "the null device in the place of a closed stream",
    ("cli/guard.py", "fdopen"): "the same, as a stream",
    ("export/beside.py", "fdopen"): "the pipe of a forked process",
    ("revision/revise.py", "copytree"): "a design's folder copied whole; a pipe in it is refused by shutil",
}
# methods and functions that read a file by its name, ours, the standard library's and the libraries' we use
OPENERS = {
    "open",
    "fdopen",
    "read_bytes",
    "read_text",
    "write_bytes",
    "write_text",
    "readfile",
    "readlines",
    "fromfile",
    "tofile",
    "loadtxt",
    "genfromtxt",
    "memmap",
    "iterparse",
    "copytree",
    "copyfile",
    "copy2",
    "input",
}
FROM_STREAMS = {"json", "tomllib", "pickle", "marshal", "np", "numpy", "csv"}


def _of_the_package(node: ast.AST) -> bool:
    """Whether a call reads what is installed with us: its expression begins with ``resources.files``."""
    return "resources.files(" in ast.unparse(node)


def opened(path: Path) -> list[tuple[str, int]]:
    """Return (what opens a file, line) of each such call in the module at *path*."""
    tree = ast.parse(path.read_text("utf-8"))
    ours = {  # names bound to readfile's guarded function, or to functions of that name that take text
        alias.asname or alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("boardgen.")
        for alias in node.names
    } | {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}
    packaged = {
        target.id
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign) and _of_the_package(node.value)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    found = []
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        function = node.func
        if isinstance(function, ast.Name) and function.id in OPENERS - ours:
            found.append((function.id, node.lineno))
        elif isinstance(function, ast.Attribute):
            holder = function.value
            if isinstance(holder, ast.Name) and holder.id in FROM_STREAMS and function.attr == "load":
                found.append((f"{holder.id}.load", node.lineno))
            elif function.attr in OPENERS and not _of_the_package(holder):
                names = {inner.id for inner in ast.walk(holder) if isinstance(inner, ast.Name)}
                if not names & packaged:
                    found.append((function.attr, node.lineno))
    return found


def test_files_are_opened_by_the_guarded_doors_alone():
    strangers, seen = [], set()
    for path in sorted(ROOT.rglob("*.py")):
        name = path.relative_to(ROOT).as_posix()
        if name in DOORS:
            continue
        for what, line in opened(path):
            if (name, what) in NAMED:
                seen.add((name, what))
            else:
                strangers.append(f"{name}:{line}: {what}")
    assert strangers == []
    assert seen == set(NAMED), "an exception that nothing needs any more"


def test_the_search_sees_each_way_to_open_a_file(tmp_path):
    lines = (
        "open(x)",
        "os.open(x, 0)",
        "Path(x).open()",
        "place.read_bytes()",
        "(a / b).read_text('utf-8')",
        "json.load(x)",
        "ezdxf.readfile(x)",
        "place.write_text(x)",
        "shutil.copytree(a, b)",
    )
    path = tmp_path / "m.py"
    path.write_text("\n".join(lines))
    assert [line for _, line in opened(path)] == list(range(1, len(lines) + 1))
    path.write_text(
        "from boardgen.readfile import read_bytes\nread_bytes(x, 'x')\nresources.files('a').read_text()\n"
    )
    assert opened(path) == []
