"""What may be changed in a C++ source: every mutant of a text, and a spread of them by a seed.

A mutant is (kind, start, end, after): text[start:end] becomes `after`. Comments, literals and words for
people are left alone. Pure: reads and writes no file.
"""

import random
import re

# Whole functions that only make words for people.
WORDS = ("limit_words", "bounds_word")

COMPARE = {"<": ("<=", ">="), "<=": ("<", ">"), ">": (">=", "<="), ">=": (">", "<"), "==": ("!=",), "!=": ("==",)}
# Enumerators that stand for each other.
NAMES = {
    "verdict": ("Verdict::kMet", "Verdict::kDeviated", "Verdict::kUnproven"),
    "reason": ("Reason::kNoData", "Reason::kTooClose", "Reason::kClockDoubt", "Reason::kSourcesDisagree",
               "Reason::kNotYet", "Reason::kCutShort"),
    "applies": ("Applies::kYes", "Applies::kNo", "Applies::kUnknown"),
    "tri": ("Tri::kTrue", "Tri::kFalse", "Tri::kUnknown"),
    "basis": ("Basis::kSaid", "Basis::kPictured", "Basis::kMeasured"),
}
PAIRS = [("std::min", "std::max"), ("lo_us", "hi_us"), ("surely_to", "possibly_to"), ("surely_from", "possibly_from"),
         (".lo", ".hi"), ("floor_div", "ceil_div"), ("any_of", "none_of"), ("front()", "back()"), ("early_us", "late_us"),
         ("before", "after"), ("from_us", "to_us"), ("true", "false")]


def blanked(text):
    """The text with comments, literals and lines for people made of spaces, so that places stay the same."""
    def spaces(match):
        return re.sub(r"[^\n]", " ", match.group(0))
    text = re.sub(r"//[^\n]*|\"(?:\\.|[^\"\\\n])*\"|(?<![0-9a-zA-Z])'(?:\\.|[^'\\])'", spaces, text)
    text = re.sub(r"^\s*(?:#|using |namespace |template)[^\n]*", spaces, text, flags=re.M)
    for name in WORDS:
        text = re.sub(r"^[^\n]*\b%s\([^;]*?\{\n.*?^\}" % name, spaces, text, flags=re.M | re.S)
    # A statement that prints, from its line's start to its semicolon.
    text = re.sub(r"^[^\n;]*(?:fmt::format|printed\(|\bwords\b|[rR]emark|\.quantity =|\.unit =)[^;]*;", spaces, text, flags=re.M)
    return text


def closing(text, at):
    """Where the bracket at `at` closes."""
    depth = 0
    for i in range(at, len(text)):
        depth += (text[i] in "([{") - (text[i] in ")]}")
        if depth == 0:
            return i
    return len(text)


def operand(text, at, stops):
    """End of the operand that begins at `at`: an outer && || ) ; , ? or :."""
    i = at
    while i < len(text):
        if text[i] in "([{":
            i = closing(text, i)
        elif text[i] in ")];,?}" or text.startswith(stops, i) or (text[i] == ":" and text[i - 1] == " "):
            break
        i += 1
    return i


def numbers(text):
    for match in re.finditer(r"(?<![\w.'])(\d[\d']*)(?![\w.'])", text):
        value = int(match.group(1).replace("'", ""))
        for other in ((value + 1, value - 1) if 0 < value < 100 else (value * 2, value // 2) if value else (1,)):
            yield "number", match.start(), match.end(), str(other)


def conditions(text):
    for match in re.finditer(r"\bif \(", text):
        end = closing(text, match.end() - 1)
        inside = text[match.end():end]
        if ";" not in inside and not inside.lstrip().startswith(("const ", "auto ")):
            yield "condition", match.end(), match.end(), "true || "
            yield "condition", match.end(), end, "false"
    for match in re.finditer(r"(&&|\|\|)\s+", text):
        end = operand(text, match.end(), ("&&", "||", "?"))
        yield "operand", match.end(), end, "true" if match.group(1) == "&&" else "false"
        yield "logic", match.start(1), match.end(1), "||" if match.group(1) == "&&" else "&&"
    for match in re.finditer(r"(?<![\w)!])!(?=[\w(*])", text):
        yield "not", match.start(), match.end(), ""


def operators(text):
    for match in re.finditer(r" (<=|>=|==|!=|<|>) ", text):
        for after in COMPARE[match.group(1)]:
            yield "compare", match.start(1), match.end(1), after
    for match in re.finditer(r" (\+=?|-=?|\*|/) ", text):
        yield "arithmetic", match.start(1), match.end(1), {"+": "-", "-": "+", "*": "+", "/": "*", "+=": "-=", "-=": "+="}[match.group(1)]


def names(text):
    for kind, words in NAMES.items():
        for match in re.finditer(r"\b%s::k\w+" % kind.capitalize(), text):
            for after in words:
                if match.group(0) in words and after != match.group(0):
                    yield kind, match.start(), match.end(), after
    for match in re.finditer(r"Bounds::k(?:AtMost|AtLeast)", text):  # The other two differ in words only.
        yield "bounds", match.start(), match.end(), "Bounds::kUnder"
    for pair in PAIRS:
        for was, after in (pair, pair[::-1]):
            for match in re.finditer(r"(?<![\w])%s\b" % re.escape(was) if was[0] != "." else r"\%s\b" % was, text):
                yield "pair", match.start(), match.end(), after
    for match in re.finditer(r"\b(early_us|late_us|lo_us|hi_us|best_us|\.best)\b", text):
        if match.group(1) == "best_us":
            yield "pair", match.start(), match.end(), "lo_us"
            yield "pair", match.start(), match.end(), "hi_us"


def statements(text):
    for match in re.finditer(r"(?<=[;{}\n)])(\s+)(continue|break|return|[a-z_*+][\w.*>+-]*(?:\(|\[|\s(?:=|\+=|-=)\s))", text):
        start = match.start(2)
        if match.group(2).startswith(("if", "for", "while", "switch", "return")):
            continue
        end = start
        while end < len(text) and text[end] != ";":
            end = closing(text, end) + 1 if text[end] in "([{" else end + 1
        yield "statement", start, end, ""


def mutants(text):
    """All mutants of the text, each once, in order of place."""
    code = blanked(text)
    found = set()
    for make in (numbers, conditions, operators, names, statements):
        found.update(make(code))
    return sorted(m for m in found if text[m[1]:m[2]] != m[3])


def spread(text, rng, count):
    """The mutants in an order of the random number generator: the kinds take turns, each place once at first."""
    by_kind = {}
    for mutant in mutants(text):
        by_kind.setdefault(mutant[0], []).append(mutant)
    for some in by_kind.values():
        rng.shuffle(some)
    out, lines = [], set()
    kinds = list(by_kind)
    while kinds and len(out) < count:
        rng.shuffle(kinds)
        for kind in kinds:
            some = by_kind[kind]
            fresh = next((m for m in some if text[:m[1]].count("\n") not in lines), some[0])
            some.remove(fresh)
            lines.add(text[:fresh[1]].count("\n"))
            out.append(fresh)
        kinds = [kind for kind in kinds if by_kind[kind]]
    return out


def changed_line(text, mutant):
    """The line (spaces aside) before and after, its number, and which of the same lines it is."""
    _, start, end, after = mutant
    first = text.rfind("\n", 0, start) + 1
    last = text.find("\n", end)
    was, now = text[first:last], text[first:start] + after + text[end:last]
    same = re.findall(r"^%s$" % re.escape(was), text[:first], flags=re.M)
    return " ".join(was.split()), " ".join(now.split()), text[:first].count("\n") + 1, len(same)
