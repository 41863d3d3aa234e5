"""File and function lengths. No file over 600 lines, no function over 70."""

import ast
import re

from sources import blanked

FILE_LINES = 600
FUNCTION_LINES = 70
MEASURED = {".cpp", ".h", ".proto", ".py", ".sh", ".ts", ".css"}


def check(name, text):
    """Offenders of one file, as sentences."""
    ending = "." + name.rsplit(".", 1)[-1]
    if ending not in MEASURED:
        return []
    found = []
    lines = text.count("\n")
    if lines > FILE_LINES:
        found.append(f"{name}: {lines} lines, more than {FILE_LINES}: split it by ideas")
    spans = []
    if ending in (".cpp", ".h"):
        spans = cpp_functions(text)
    elif ending == ".py":
        spans = [(f.name, f.lineno, f.end_lineno) for f in ast.walk(ast.parse(text))
                 if isinstance(f, (ast.FunctionDef, ast.AsyncFunctionDef))]
    for what, first, last in spans:
        if last - first + 1 > FUNCTION_LINES:
            found.append(f"{name}:{first}: {what}: {last - first + 1} lines, more than "
                         f"{FUNCTION_LINES}: split it")
    return found


_SCOPE = re.compile(r"^\s*(?:inline\s+)?namespace\b|^\s*extern\s*\"")
_TYPE = re.compile(r"^\s*(?:template\s*<.*>\s*)?(?:typedef\s+)?(?:class|struct|union|enum)\b[^()]*"
                   r"(?:\([^()]*\)[^()]*)?$", re.DOTALL)


def cpp_functions(text):
    """(name, first line, last line) of each function defined outside another function."""
    text = re.sub(r"^[ \t]*#(?:[^\n\\]|\\.|\\\n)*", "", blanked(text), flags=re.MULTILINE)
    spans = []
    stack = []  # one of "scope", "init", "inside", or a function's (name, first line)
    head_start = 0
    line = 1
    for at, char in enumerate(text):
        if char == "\n":
            line += 1
        elif char == "{":
            kind = _kind_of_block(text[head_start:at], stack, line)
            stack.append(kind)
            if kind == "scope":
                head_start = at + 1
        elif char == "}" and stack:
            closed = stack.pop()
            if isinstance(closed, tuple):
                spans.append((closed[0], closed[1], line))
            if closed != "init" and not any(isinstance(s, tuple) for s in stack):
                head_start = at + 1
        elif char == ";" and all(s == "scope" for s in stack):
            head_start = at + 1
    return spans


def _kind_of_block(head, stack, line):
    if any(s != "scope" for s in stack):
        return "inside"
    if _SCOPE.match(head) or (_TYPE.match(head) and "=" not in head):
        return "scope"
    before = head.rstrip()
    if "(" not in head or re.search(r"(?:=|return)\s*$", before):
        return "init"
    member = re.search(r"\)\s*(?:noexcept\s*)?:[^:].*?[\w>]$", before, re.DOTALL)
    if member and not before.endswith((")", "}")):
        return "init"
    first = line - head.lstrip().count("\n")
    names = re.findall(r"([~\w:]+)\s*\(", head)
    return (names[0] if names else "function", first)
