"""Which room may include which: arrows point down the house only (DEVELOPERS.md, "The house")."""

import re

from sources import blanked

# Highest first. Rooms on one line do not know each other.
HOUSE = [
    ["daemon/pages"],
    ["daemon/desk"],
    ["reports"],
    ["daemon/intake", "daemon/uplink", "daemon/sensors"],
    ["daemon/watch", "daemon/plan"],
    ["daemon/judge", "daemon/ledger"],
    ["daemon/record", "daemon/physics"],
    ["daemon/base"],
]
LEVEL = {room: level for level, rooms in enumerate(HOUSE) for room in rooms}
OUTSIDE = ["plugins", "clients", "tests"]
VERIFY_ROOMS = ["daemon/base", "daemon/record", "daemon/physics", "daemon/judge"]

RPC = r"daemon/(intake|uplink|sensors|desk)/\w+_rpc\.(h|cpp)"
TESTS = r"tests/.*"
# A header of somebody else's, and the only files that may include it.
OWNED = [
    (r"sqlite3\.h", rf"daemon/ledger/sqlite/.*|{TESTS}"),
    (r"libpq-fe\.h", r"daemon/ledger/postgres/.*"),
    (r"(lib)?gps(mm)?\.h", r"plugins/gps/.*"),
    (r"modbus(/.*)?\.h", rf"plugins/line/.*|clients/sim/.*|{TESTS}"),
    (r"libsigrok.*", r"plugins/.*"),
    (r"sodium.*\.h", rf"daemon/base/crypto\w*\.(h|cpp)|{TESTS}"),
    (r"openssl/.*", rf"daemon/base/crypto\w*\.(h|cpp)|daemon/pages/.*|{RPC}|{TESTS}"),
    (r"grpc(pp)?/.*|.*\.grpc\.pb\.h", rf"{RPC}|plugins/sdk/.*|clients/cli/.*|{TESTS}"),
    (r"boost/beast.*", r"daemon/pages/.*"),
    (r"curl/.*", r"clients/cli/.*|daemon/desk/smtp\.cpp"),
    (r"absl/.*", r"daemon/desk/calendar\.cpp"),
    (r"zlib\.h", rf"clients/verify/pdf_bundle\.cpp|{TESTS}"),
    (r"qpdf/.*", rf"reports/.*|{TESTS}"),
    (r"kainjow/.*|mustache\.hpp", r"reports/.*"),
    (r"toml\+\+/.*", r"daemon/base/.*|plugins/sdk/.*"),
    (r"CLI/.*", r"clients/.*|plugins/.*|daemon/main\.cpp"),
]

_INCLUDE = re.compile(r'^\s*#\s*include\s*(["<])([^">]+)[">]', re.MULTILINE)


def room_of(path):
    """The room a path lies in, "" for daemon/main.cpp and what belongs to no room."""
    for room in list(LEVEL) + OUTSIDE:
        if path.startswith(room + "/"):
            return room
    return ""


def check(name, text):
    """Offending includes of one C++ file, as sentences."""
    if not name.endswith((".cpp", ".h")):
        return []
    found = []
    code = blanked(text)
    for match in _INCLUDE.finditer(code):
        header = match.group(2)
        where = f"{name}:{code.count(chr(10), 0, match.start(2)) + 1}"
        for pattern, allowed in OWNED:
            if re.fullmatch(pattern, header) and not re.fullmatch(allowed, name):
                found.append(f"{where}: {header} may not be included here, only in {allowed}")
        if match.group(1) == '"':
            found += [f"{where}: {why}" for why in _arrow(name, header)]
    return found


def _arrow(name, header):
    mine, theirs = room_of(name), room_of(header)
    if header.startswith("."):
        return ["include from the top of the repository, not by a relative path"]
    if theirs in OUTSIDE and mine != theirs:
        if mine == "tests" or (theirs == "plugins" and mine == "clients"):
            return []
        return [f"nothing may point at {theirs}/ ({header})"]
    if name.startswith("clients/verify/") and theirs in LEVEL and theirs not in VERIFY_ROOMS:
        return [f"clients/verify may use {', '.join(VERIFY_ROOMS)} only, not {header}"]
    if mine not in LEVEL or theirs not in LEVEL or mine == theirs:
        return []
    if LEVEL[theirs] > LEVEL[mine]:
        return []
    how = "beside" if LEVEL[theirs] == LEVEL[mine] else "above"
    return [f"{header} lies {how} {mine}; arrows point down the house only"]
