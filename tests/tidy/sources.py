"""Which files the style checks look at, and C++ text with comments and literals blanked out."""

import re
from pathlib import Path

TOP = Path(__file__).resolve().parents[2]
SKIPPED_FOLDERS = {".git", "build", "out", ".cache", "node_modules", "__pycache__", "shared"}
CODE_ENDINGS = {".cpp", ".h", ".proto", ".py", ".sh", ".cmake", ".ts", ".js", ".css", ".html",
                ".mustache", ".textproto"}
TEXT_ENDINGS = CODE_ENDINGS | {".md", ".txt", ".toml", ".json", ".supp"}


def walk(top=TOP):
    """Every file of the tree but build results, as (path relative to top, Path), sorted."""
    found = []
    todo = [top]
    while todo:
        for entry in todo.pop().iterdir():
            if entry.is_dir() and not entry.is_symlink():
                if entry.name not in SKIPPED_FOLDERS:
                    todo.append(entry)
            elif entry.is_file():
                found.append((entry.relative_to(top).as_posix(), entry))
    return sorted(found)


def read(path):
    return path.read_text(encoding="utf-8")


_PARTS = re.compile(
    r'//[^\n]*|/\*.*?\*/|R"(?P<d>[^()\\\s]*)\(.*?\)(?P=d)"'
    r"|\"(?:\\.|[^\"\\\n])*\"|(?<![0-9a-fA-F])'(?:\\.|[^'\\\n])*'", re.DOTALL)


def blanked(text):
    """C++ text of the same line structure: comments gone, literals empty, includes kept."""
    def blank(match):
        part = match.group(0)
        lines = "\n" * part.count("\n")
        if part.startswith("/"):
            return " " + lines
        before = text[text.rfind("\n", 0, match.start()) + 1:match.start()]
        if re.match(r"\s*#\s*include\s*$", before):
            return part
        return part[0].replace("R", '"') + lines + part[-1]
    return _PARTS.sub(blank, text)
