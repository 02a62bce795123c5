"""The small faults themselves: what one node of a syntax tree is taken for by mistake."""

import ast
import copy
import math
from collections.abc import Iterator

OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
OPPOSITES: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.GtE,
    ast.LtE: ast.Gt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Lt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
# With whole numbers the bound itself is a case of its own.
BOUNDS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
}
PAIRS = {
    "max": "min",
    "min": "max",
    "maximum": "minimum",
    "minimum": "maximum",
    "sin": "cos",
    "cos": "sin",
    "argmax": "argmin",
    "argmin": "argmax",
    "any": "all",
    "all": "any",
    "floor": "ceil",
    "ceil": "floor",
}
SYMMETRIC = {
    *("max", "min", "maximum", "minimum", "hypot", "isclose", "allclose", "array_equal", "add", "multiply"),
    *(
        "union1d",
        "intersect1d",
        "gcd",
        "lcm",
        "dist",
        "logical_and",
        "logical_or",
        "isinstance",
        "cast",
        "getattr",
        "suppress",
    ),
}
# Numbers smaller than this only keep a division from nought.
SMALLEST = 1e-6
# Whole numbers from here on are sizes, colours and numbers of samples, of which one more is nearly always the same
# choice; they are doubled as real numbers are.
MANY = 10


Change = tuple[ast.AST, ast.AST]


def changes(node: ast.AST) -> Iterator[Change]:
    """All faults of one node, each as the part that is replaced and what it is taken for."""
    if isinstance(node, ast.If | ast.While) and isinstance(node.test, ast.Name | ast.Attribute | ast.Call):
        yield node.test, ast.UnaryOp(ast.Not(), node.test)
    elif isinstance(node, ast.BinOp | ast.AugAssign):
        yield from _operator(node)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.Not | ast.Invert):
        yield node, node.operand
    elif isinstance(node, ast.Constant):
        yield from ((node, ast.Constant(value)) for value in _other_values(node.value))
    elif isinstance(node, ast.Compare):
        yield from _comparison(node)
    elif isinstance(node, ast.BoolOp):
        yield node, _with(node, op=ast.Or() if isinstance(node.op, ast.And) else ast.And())
    elif isinstance(node, ast.Call):
        yield from _call(node)
    elif isinstance(node, ast.IfExp):
        yield node, _with(node, body=node.orelse, orelse=node.body)


def _with(node: ast.AST, **fields: object) -> ast.AST:
    changed = copy.copy(node)
    for name, value in fields.items():
        setattr(changed, name, value)
    return changed


def _operator(node: ast.BinOp | ast.AugAssign) -> Iterator[Change]:
    sides = [node.left, node.right] if isinstance(node, ast.BinOp) else [node.value]
    # Sums of texts and unions of types are no arithmetic.
    if type(node.op) in OPERATORS and not any(_text(side) or _type(side) for side in sides):
        yield node, _with(node, op=OPERATORS[type(node.op)]())


def _text(node: ast.AST) -> bool:
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def _type(node: ast.AST) -> bool:
    if isinstance(node, ast.Constant):
        return node.value is None
    name = node.id if isinstance(node, ast.Name) else node.attr if isinstance(node, ast.Attribute) else ""
    return name in ("int", "float", "str") or (name[:1].isupper() and not name.isupper())


def _other_values(value: object) -> Iterator[object]:
    if isinstance(value, bool):
        yield not value
    elif isinstance(value, int):
        yield value + 1 if value < MANY else 2 * value
    elif isinstance(value, float) and value == 0.0:
        yield 1.0
    elif isinstance(value, float) and SMALLEST <= abs(value) < math.inf:
        yield 2.0 * value


def _comparison(node: ast.Compare) -> Iterator[Change]:
    for k, op in enumerate(node.ops):
        others = [OPPOSITES[type(op)]()]
        if type(op) in BOUNDS and (_whole(node.comparators[k]) or _whole(node.left)):
            others.append(BOUNDS[type(op)]())
        yield from ((node, _with(node, ops=[*node.ops[:k], other, *node.ops[k + 1 :]])) for other in others)


def _whole(node: ast.AST) -> bool:
    """Whether a node is a whole number for sure: one of two and more, or a length."""
    if isinstance(node, ast.Constant):
        return isinstance(node.value, int) and not isinstance(node.value, bool) and node.value > 1
    return isinstance(node, ast.Call) and ast.unparse(node.func) == "len"


def _call(node: ast.Call) -> Iterator[Change]:
    name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
    if name in PAIRS:
        yield (
            node,
            _with(node, func=_with(node.func, **{"id" if isinstance(node.func, ast.Name) else "attr": PAIRS[name]})),
        )
    yield from ((node, arg) for arg in _clamped(node, name))
    if name not in SYMMETRIC:
        yield from _swapped(node)
    for k, word in enumerate(node.keywords):
        if word.arg == "axis" and isinstance(word.value, ast.Constant) and word.value.value in (0, 1):
            other = _with(word, value=ast.Constant(1 - word.value.value))
            yield node, _with(node, keywords=[*node.keywords[:k], other, *node.keywords[k + 1 :]])


def _clamped(node: ast.Call, name: str) -> list[ast.expr]:
    """What a clamp is put on."""
    of_module = not isinstance(node.func, ast.Attribute) or ast.unparse(node.func.value) in ("np", "math")
    if name == "clip":
        return [node.args[0]] if of_module else [node.func.value]  # type: ignore[attr-defined]
    if name in ("abs", "fabs"):
        return node.args[:1]
    if name in ("max", "min", "maximum", "minimum") and of_module and len(node.args) >= 2 and not node.keywords:
        return [arg for arg in node.args[:2] if not isinstance(arg, ast.Constant | ast.Starred)]
    return []


def _swapped(node: ast.Call) -> Iterator[Change]:
    """Two neighbouring arguments that stand for each other, numbers and unpacked ones left alone."""
    for k in range(len(node.args) - 1):
        a, b = node.args[k : k + 2]
        plain = not any(isinstance(x, ast.Starred | ast.Constant | ast.GeneratorExp | ast.Lambda) for x in (a, b))
        if plain and ast.dump(a) != ast.dump(b):
            yield node, _with(node, args=[*node.args[:k], b, a, *node.args[k + 2 :]])
