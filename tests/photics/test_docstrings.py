"""What stands beside the numbers of photics: shapes, units, sources; counted one by one.

An array says its shape, a quantity its unit (in its name or in brackets), a numeric model where it
comes from, and a constant why it is what it is: a source, or "chosen, because".
"""

import ast
import re
from collections import defaultdict
from dataclasses import dataclass

import pytest

from tests.sources import APPS

PHOTICS = APPS / "photics"

ARRAY = re.compile(r"\w*Array(Like)?\b|ndarray")
QUANTITY = re.compile(r"\bfloat\b|\b(Float|Real|FloatOr)Array\b|\bArrayLike\b")
# (n,), (n, k), (4,), (n, 4 F + 8), (SIDE, SIDE), (..., 3), but not (x, y); or in words.
LENGTH = (
    r"(?:\.\.\.|(?:\d+ )?(?:[A-Z][A-Z_]*|[a-z]{1,2}|count|draws|cells|sum|listed|free|\d+)"
    r"(?: [+*-] (?:\d+ )?\w+)*)"
)
SHAPE = re.compile(
    rf"\((?!x, y)(?:{LENGTH},|\.\.\.)(?: ?{LENGTH},?)*\)"
    r"|\bshapes?\b|\bbroadcast\b|\bscalar or array\b"
)
UNIT = re.compile(r"\[[^\]]+\]|\bunits?\b|\b0/1\b|\blabels\b|\bcodes\b|\bCIELAB\b")
ANY_UNIT = re.compile(r"\b(any|one)( one)? units?\b")
NAMED_UNIT = re.compile(
    r"_(cm|m|mm|nm|umol|mol|deg|rad|percent|w|s|h|hours|minutes|days|ago|k|lux|lm|cd|px|log2|log"
    r"|ratio|factor|proportion|share|weeks|umol_s|umol_j|sr|cm2|m2)$"
    r"|^(percent|hours|days|weeks|watts|kelvin|lumens|lux|ratio|factor|proportion|level|minutes)$"
)
# Numbers of a fit, counts and chances: none has a unit of its own.
UNITLESS = re.compile(
    r"^(theta|beta|start|curve|parameters|coefficients|standard_errors|covariance|event|number"
    r"|weight|statistic|facts|stratum|target|rho|power|power_later|u)$|^p_|_p$|_p_|likelihood"
)
SOURCE = re.compile(
    r"\b(1[5-9]|20)\d\d\b|doi:|https?://|\b[Cc]hosen\b|\b[Oo]ur own choice\b|\b(CIE|IES|IEC)\b"
    r"|\b[Bb]y definition\b|\bfrom memory\b|\b[Ee]xact\b|\blaw\b|\bformula\b|\bgeometry\b"
)
REASON = re.compile(SOURCE.pattern + r"|\bbecause\b|\bso that\b|\b[Tt]he same pages?\b")
# What a module may say of all its constants at once.
REASON_OF_ALL = re.compile(r"\b[Ee]ach bound is chosen, because\b")
# Formulas with fewer operations than this are bookkeeping, not models.
OPERATIONS_MIN = 5


@dataclass(frozen=True)
class Said:
    """One thing that must be said, and whether it is."""

    kind: str
    place: str
    is_said: bool


def sentences(text):
    """Return a text's sentences and clauses, each on one line."""
    flat = " ".join((text or "").split())
    return re.split(r"(?<=[.;]) ", flat)


def says(text, name, pattern):
    """Tell whether a sentence about a name, or about all arrays alike, matches a pattern."""
    about = re.compile(rf"\b{re.escape(name)}\b|\b[Aa]rrays?\b|\b[Aa]ll\b|\b[Ee]ach\b|\bboth\b")
    return any(about.search(s) and pattern.search(s) for s in sentences(text))


def of_parameter(place, name, annotation, text, *, shapes=False, units=False):
    """Yield what must be said of one parameter or field, unless said of all: `shapes`, `units`."""
    if ARRAY.search(annotation):
        yield Said("shape", f"{place} {name}", shapes or says(text, name, SHAPE))
    if QUANTITY.search(annotation) and not UNITLESS.search(name):
        said = units or bool(NAMED_UNIT.search(name)) or says(text, name, UNIT)
        yield Said("unit", f"{place} {name}", said)


def of_function(place, node, around):
    """Yield what must be said of one function, `around` it the texts of class and module."""
    text = " ".join((ast.get_docstring(node) or "").split())
    every = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    types = {a.arg: ast.unparse(a.annotation) if a.annotation else "" for a in every}
    returns = ast.unparse(node.returns) if node.returns else ""
    arrays = sum(bool(ARRAY.search(kind)) for kind in (*types.values(), returns))
    # Where each array has its shape, it need not be named beside it.
    shapes, units = len(SHAPE.findall(text)) >= arrays, bool(ANY_UNIT.search(text))
    for name, annotation in types.items():
        yield from of_parameter(place, name, annotation, text, shapes=shapes, units=units)
    if ARRAY.search(returns):
        yield Said("shape", f"{place} returns", bool(SHAPE.search(text)))
    if QUANTITY.search(returns) and not UNITLESS.search(node.name):
        said = bool(NAMED_UNIT.search(node.name) or UNIT.search(text))
        yield Said("unit", f"{place} returns", said)
    operations = sum(isinstance(part, ast.BinOp) for part in ast.walk(node))
    if operations >= OPERATIONS_MIN and QUANTITY.search(returns):
        yield Said("source", place, any(SOURCE.search(t) for t in (text, *around)))


def of_fields(place, node, lines):
    """Yield what must be said of a class's annotated fields: beside them, or in its docstring."""
    text = ast.get_docstring(node) or ""
    for field in node.body:
        if isinstance(field, ast.AnnAssign):
            beside = comment_at(lines, field.lineno, field.end_lineno)
            name = field.target.id
            yield from of_parameter(
                *(place, name, ast.unparse(field.annotation), f"{name}: {beside}"),
                shapes=bool(SHAPE.search(text)),
                units=bool(UNIT.search(text)),
            )


def comment_at(lines, first, last):
    """Return the comments beside lines first to last (from 1) and those right above them."""
    above, k = [], first - 2
    while k >= 0 and lines[k].strip().startswith("#"):
        above.insert(0, lines[k].strip().lstrip("# "))
        k -= 1
    beside = [line.partition("  # ")[2] for line in lines[first - 1 : last]]
    inside = [line.strip().lstrip("# ") for line in lines[first - 1 : last] if "# " in line]
    return " ".join([*above, *beside, *inside])


def constant_names(node):
    targets = node.targets if isinstance(node, ast.Assign) else [node.target]
    names = [t for target in targets for t in getattr(target, "elts", [target])]
    return [t.id for t in names if isinstance(t, ast.Name) and t.id.isupper()]


def holds_number(node):
    return node is not None and any(
        isinstance(part, ast.Constant)
        and isinstance(part.value, int | float)
        and not isinstance(part.value, bool)
        for part in ast.walk(node)
    )


def of_constants(place, tree, lines):
    """Yield what must be said of a module's constants; a comment serves all lines right below."""
    comment, end = "", -1
    of_all = bool(REASON_OF_ALL.search(ast.get_docstring(tree) or ""))
    for node in tree.body:
        if not isinstance(node, ast.Assign | ast.AnnAssign):
            continue
        own = comment_at(lines, node.lineno, node.end_lineno)
        comment = f"{comment} {own}" if node.lineno == end + 1 else own
        end = node.end_lineno
        if (names := constant_names(node)) and holds_number(node.value):
            yield Said("constant", f"{place}.{names[0]}", of_all or bool(REASON.search(comment)))


def texts_of_callers(tree):
    """Return {function: docstrings of it and of all functions of its module that lead to it}."""
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    uses = {
        caller.name: {
            part.id if isinstance(part, ast.Name) else part.attr
            for part in ast.walk(caller)
            if isinstance(part, ast.Name | ast.Attribute)
        }
        for caller in functions
    }
    texts = {node.name: ast.get_docstring(node) or "" for node in functions}

    def leading_to(name, seen):
        for caller, used in uses.items():
            if name in used and caller not in seen:
                seen.add(caller)
                leading_to(caller, seen)
        return seen

    return {name: [texts[caller] for caller in leading_to(name, {name})] for name in texts}


def is_public(node):
    return isinstance(node, ast.FunctionDef) and (
        (node.name == "__init__" or not node.name.startswith("_"))
        and not any(getattr(d, "id", "") == "overload" for d in node.decorator_list)
    )


def of_source(source, place):
    """Yield all that a module of this source must say."""
    tree, lines = ast.parse(source), source.splitlines()
    text, callers = ast.get_docstring(tree) or "", texts_of_callers(tree)
    yield from of_constants(place, tree, lines)
    for node in tree.body:
        if is_public(node):
            yield from of_function(f"{place}:{node.name}", node, [text, *callers[node.name]])
        if isinstance(node, ast.ClassDef):
            within, around = f"{place}:{node.name}", [ast.get_docstring(node) or "", text]
            yield from of_fields(within, node, lines)
            for method in node.body:
                if is_public(method):
                    texts = [*around, *callers[method.name]]
                    yield from of_function(f"{within}.{method.name}", method, texts)


def counted():
    """Return {(room, kind): [Said, ...]} of all of photics."""
    result = defaultdict(list)
    for path in sorted(PHOTICS.rglob("*.py")):
        for said in of_source(path.read_text(), str(path.relative_to(PHOTICS))):
            result[path.relative_to(PHOTICS).parts[0], said.kind].append(said)
    return result


COUNTED = counted()


@pytest.mark.parametrize(("room", "kind"), sorted(COUNTED))
def test_room_says_what_its_numbers_are(room, kind):
    assert [said.place for said in COUNTED[room, kind] if not said.is_said] == []


# --- The count itself ------------------------------------------------------------------------
GAIN = 'def gain(light: FloatArray, by: float) -> None:\n    """{}"""'
MODEL = 'def f(x_cm: float) -> float:\n    """{}"""\n    return x_cm + 1 - 2 * 3 / 4 ** 5'


def unsaid(source):
    return [(said.kind, said.place) for said in of_source(source, "m") if not said.is_said]


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        ("Of `light` (n,) [1] and `by` [1].", []),
        ("Of `light` (n,) [1]. `by` is a number.", [("unit", "m:gain by")]),
        ("Of `light` [1] and `by` [1].", [("shape", "m:gain light")]),
        ("Points are (x, y). Of `light` and `by` [1].", [("shape", "m:gain light")]),
        ("Arrays (n,) in any unit.", []),
    ],
)
def test_parameters_are_counted_one_by_one(text, missing):
    assert unsaid(GAIN.format(text)) == missing


@pytest.mark.parametrize(
    ("text", "is_said"),
    [("A height [cm]. Snell 1621.", True), ("A height [cm].", False), ("Chosen [cm].", True)],
)
def test_model_names_its_source(text, is_said):
    assert (unsaid(MODEL.format(text)) == []) == is_said


def test_step_of_a_sourced_model_needs_no_source_again():
    caller = 'def model() -> None:\n    """Snell 1621."""\n    f(1)\n'
    assert unsaid(caller + MODEL.format("A height [cm].")) == []


@pytest.mark.parametrize(
    ("source", "missing"),
    [
        ("# Chosen, because it is enough.\nMOST = 3\nLEAST = 1", []),
        ("# How many.\nMOST = 3", [("constant", "m.MOST")]),
        ("# Chosen, because it is enough.\nMOST = 3\n\nLEAST = 1", [("constant", "m.LEAST")]),
        ("NAME = 'a'", []),
    ],
)
def test_constant_has_its_reason_beside_it(source, missing):
    assert unsaid(source) == missing
