#!/usr/bin/env python3
"""Puts the page together: build.py OUT. One file, allowed to run its own script and style and nothing else."""

import base64
import hashlib
import pathlib
import sys

HERE = pathlib.Path(__file__).parent
SCRIPTS = ["bytes", "sha2", "ed25519", "merkle", "note", "bundle", "pdf", "steps_form", "steps_keys",
           "steps_job", "show"]


def digest(text):
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def main():
    script = "\n\"use strict\";\n" + "\n".join((HERE / f"{name}.js").read_text() for name in SCRIPTS)
    style = "\n" + (HERE / "page.css").read_text()
    page = (HERE / "page.html").read_text()
    for mark, text in (("SCRIPT_SHA", digest(script)), ("STYLE_SHA", digest(style)), ("STYLE", style),
                       ("SCRIPT", script)):
        if page.count(mark) != 1 or "</script" in script or "</style" in style:
            sys.exit(f"build.py: page.html must hold {mark} once, and no part may end its own element")
        page = page.replace(mark, text)
    pathlib.Path(sys.argv[1]).write_text(page)


if __name__ == "__main__":
    main()
