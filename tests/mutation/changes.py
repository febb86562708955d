"""What can be changed in the code, one thing at a time, and which of it a seed draws.

The changes are those of cosmic-ray, less the ones that only make Python stumble (``a << b`` on
numbers), and one of our own: `SwapFunction`.
"""

import ast
import hashlib
import tomllib
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import parso
from cosmic_ray.ast import ast_nodes, get_ast
from cosmic_ray.mutating import MutationVisitor
from cosmic_ray.operators.operator import Example, Operator
from cosmic_ray.plugins import get_operator

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "adapterlab"
EQUIVALENT = Path(__file__).with_name("equivalent.toml")

CHOSEN = [
    f"core/{name}"
    for name in (
        *("ReplaceBinaryOperator_Add_Sub", "ReplaceBinaryOperator_Sub_Add"),
        *("ReplaceBinaryOperator_Mul_Div", "ReplaceBinaryOperator_Div_Mul"),
        *("ReplaceBinaryOperator_FloorDiv_Div", "ReplaceBinaryOperator_Mod_FloorDiv"),
        "ReplaceBinaryOperator_Pow_Mul",
        *("ReplaceComparisonOperator_Lt_LtE", "ReplaceComparisonOperator_Lt_GtE"),
        *("ReplaceComparisonOperator_LtE_Lt", "ReplaceComparisonOperator_LtE_Gt"),
        *("ReplaceComparisonOperator_Gt_GtE", "ReplaceComparisonOperator_Gt_LtE"),
        *("ReplaceComparisonOperator_GtE_Gt", "ReplaceComparisonOperator_GtE_Lt"),
        *("ReplaceComparisonOperator_Eq_NotEq", "ReplaceComparisonOperator_NotEq_Eq"),
        *("ReplaceComparisonOperator_Is_IsNot", "ReplaceComparisonOperator_IsNot_Is"),
        *("ReplaceUnaryOperator_Delete_USub", "ReplaceUnaryOperator_Delete_Not"),
        *("ReplaceTrueWithFalse", "ReplaceFalseWithTrue"),
        *("ReplaceAndWithOr", "ReplaceOrWithAnd", "AddNot"),
        *("ReplaceBreakWithContinue", "ReplaceContinueWithBreak", "ZeroIterationForLoop"),
        "NumberReplacer",
    )
]
PAIRS = [
    *(("max", "min"), ("maximum", "minimum"), ("argmax", "argmin"), ("idxmax", "idxmin")),
    *(("any", "all"), ("sin", "cos"), ("ceil", "floor"), ("mean", "median"), ("hypot", "add")),
]
SWAPS = dict(PAIRS) | {other: one for one, other in PAIRS if other != "add"}


class SwapFunction(Operator):
    """Puts a function's opposite in its place: the smallest for the largest, cosine for sine."""

    def mutation_positions(self, node):
        """Places of a function's name."""
        if isinstance(node, parso.python.tree.Name) and node.value in SWAPS:
            around = node.parent
            called = around.type == "trailer" or (
                around.type == "atom_expr" and around.children[0] is node
            )
            if called:
                yield (node.start_pos, node.end_pos)

    def mutate(self, node, index):
        """The node with the other name."""
        node.value = SWAPS[node.value]
        return node

    @classmethod
    def examples(cls):
        """For cosmic-ray's own use."""
        return (Example("max(x)", "min(x)"),)


@dataclass(frozen=True)
class Change:
    """One thing changed in one module.

    Attributes
    ----------
    path : pathlib.Path
        The module's file.
    line : int
        Line, counted from 1.
    before, after : str
        The lines that differ, stripped and joined by spaces.
    text : str
        The whole module, changed.
    """

    path: Path
    line: int
    before: str
    after: str
    text: str

    @property
    def module(self) -> str:
        """Path below the package."""
        return self.path.relative_to(PACKAGE).as_posix()

    @property
    def key(self) -> tuple[str, str, str]:
        """What `equivalent.toml` knows it by."""
        return self.module, self.before, self.after

    def __str__(self) -> str:
        """Place, then what became of it."""
        return f"{self.module}:{self.line}\n    - {self.before}\n    + {self.after}"


@dataclass(frozen=True)
class _Place:
    """Where a change could be made; the text is changed only for those that are drawn."""

    path: Path
    operator: str
    occurrence: int
    key: str


def _operator(name: str) -> Operator:
    return SwapFunction() if name == SwapFunction.__name__ else get_operator(name)()


def _functions(text: str) -> dict[int, str]:
    """Name of the innermost function or class around each line."""
    around: dict[int, str] = {}

    def walk(node: ast.AST, name: str) -> None:
        for child in ast.iter_child_nodes(node):
            inner = name
            if isinstance(child, ast.FunctionDef | ast.ClassDef):
                inner = f"{name}.{child.name}"
                for line in range(child.lineno, (child.end_lineno or child.lineno) + 1):
                    around[line] = inner
            walk(child, inner)

    walk(ast.parse(text), "")
    return around


def places(path: Path) -> Iterator[_Place]:
    """Every place in a module, under a key that stays the same when lines are added elsewhere."""
    text = path.read_text(encoding="utf-8")
    lines, around, tree = text.splitlines(), _functions(text), get_ast(text)
    seen: Counter[str] = Counter()
    nodes = list(ast_nodes(tree))
    for name in (*CHOSEN, SwapFunction.__name__):
        operator = _operator(name)
        found = (place for node in nodes for place in operator.mutation_positions(node))
        for occurrence, ((line, column), _) in enumerate(found):
            code = lines[line - 1]
            if code.lstrip().startswith("@"):
                continue
            indent = len(code) - len(code.lstrip())
            module = path.relative_to(PACKAGE).as_posix()
            key = f"{module}|{around.get(line, '')}|{code.strip()}|{column - indent}|{name}"
            seen[key] += 1
            yield _Place(path, name, occurrence, f"{key}|{seen[key]}")


def changed(place: _Place) -> Change:
    """The change itself."""
    text = place.path.read_text(encoding="utf-8")
    after = MutationVisitor.mutate_code(text, _operator(place.operator), place.occurrence)
    old, new = text.splitlines(), after.splitlines()
    first = next(i for i, (a, b) in enumerate(zip(old, new, strict=False)) if a != b)
    last = next(i for i, (a, b) in enumerate(zip(old[::-1], new[::-1], strict=False)) if a != b)
    before, then = (
        " ".join(line.strip() for line in side[first : max(len(side) - last, first + 1)])
        for side in (old, new)
    )
    return Change(place.path, first + 1, before, then, after)


def draw(paths: list[Path], count: int, seed: int) -> list[Change]:
    """A sample of all changes, every one as likely as any other.

    Each has a number of its own from the seed and its key, and those with the smallest are
    taken: code that is added or moved leaves the rest of the sample as it was.
    """
    every = [place for path in paths for place in places(path)]

    def number(place: _Place) -> str:
        return hashlib.sha256(f"{seed}|{place.key}".encode()).hexdigest()

    return [changed(place) for place in sorted(every, key=number)[:count]]


def equivalent() -> dict[tuple[str, str, str], str]:
    """Changes that change nothing which a test could or should see, each with its reason."""
    if not EQUIVALENT.is_file():
        return {}
    rows = tomllib.loads(EQUIVALENT.read_text(encoding="utf-8")).get("change", [])
    return {(row["module"], row["before"], row["after"]): row["reason"] for row in rows}
