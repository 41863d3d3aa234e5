#!/usr/bin/python3
"""Breaks each promise of the record once, in the source, and demands that a test fails.

    /usr/bin/python3 tests/fault/promises.py BUILD [--only PROMISE]

A break is one small change to a source file: what is old there is replaced by what is new, the named test is built
and run, and the source is put back, whatever happens. A break that its test lets pass is a hole in the tests and ends
in exit 1; so does an old text that is no longer in the source exactly once. Each test is run unbroken first, where it
must pass. Resumes from its log, build/long/promises.jsonl, as long as sources and tests are the same.
"""

import hashlib
import json
import os
import signal
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
ROOT = os.path.dirname(os.path.dirname(HERE))
LOG = os.path.join(ROOT, "build", "long", "promises.jsonl")
SECONDS = 400

ATTACKS = ("tests/unit/verify/verify_attacks_test",)
BUNDLE = ("tests/unit/verify/verify_check_test",)
RESTORE = ("tests/unit/uplink/restore_test",)
FORWARD = ("tests/unit/uplink/store_and_forward_test",)
VFS = ("tests/fault/ledger_vfs_test",)

# Promise, what is broken, file, old, new, test with its arguments.
BREAKS = [
    ("G1", "a leaf need not be in the tree", "clients/verify/step03_inclusion.cpp",
     "if (!record::verify_inclusion(", "if (item.raw->leaf == ~0ULL && !record::verify_inclusion(", ATTACKS),
    ("G1", "a body need not be the one signed for", "clients/verify/step07_bodies.cpp",
     "item.body_bound = record::body_matches(item.header, item.raw->salt, item.raw->body);",
     "item.body_bound = true;", BUNDLE),
    ("G1", "a signature need not verify", "clients/verify/step04_signatures.cpp",
     "item.header.key_id == record::key_id_of(key) && record::verify_entry(item.raw->entry, key);",
     "item.header.key_id == record::key_id_of(key);", ATTACKS),
    ("G1", "a damaged body is given out", "daemon/record/commitment.cpp",
     "return body.size() == header.body_len && commit_body(salt, body) == header.body_commit;",
     "(void)salt;\n  return body.size() == header.body_len;", ("tests/fault/ledger_flip_test",)),
    ("G2", "the verifier takes any seen head", "clients/verify/step08_seen_heads.cpp",
     "if (record::verify_consistency(size, root, c.head().size, c.head().root, proof)) continue;",
     "if (record::verify_consistency(size, root, c.head().size, c.head().root, proof) || size > 0) continue;", ATTACKS),
    ("G2", "the countersigner takes any head", "clients/verify/countersign.cpp",
     "if (!extends) return", "if (!extends && head.size == 0) return", ("tests/unit/verify/verify_countersign_test",)),
    ("G2", "a truck takes any newer head", "daemon/uplink/uplink_checks.cpp",
     "if (!record::verify_consistency(seen->size, seen->root, head->size, head->root, *hashes)) {",
     "if (hashes->size() > 64) {", FORWARD),
    ("G3", "entries may be missing from a chain", "clients/verify/step05_chains.cpp",
     "if (item.header.seq != before.header.seq + 1) {", "if (item.header.seq == before.header.seq) {", ATTACKS),
    ("G3", "a body of the job may be withheld", "clients/verify/step06_job_ends.cpp",
     "if (item.raw->form == BodyForm::kBare) {", "if (shown == 0) {", ATTACKS),
    ("G4", "a number may be used again", "daemon/ledger/sqlite/store_append.cpp",
     "if (*kept != sent.entry) {", "if (*kept != sent.entry && leaf == ~0ULL) {", FORWARD),
    ("G4", "a number may be left out", "daemon/ledger/sqlite/store_append.cpp",
     "if (header.seq != chain.mark.seq + 1) {", "if (header.seq <= chain.mark.seq) {", FORWARD),
    ("G4", "a repeat is refused", "daemon/ledger/sqlite/store_append.cpp",
     "if (header.seq <= chain->mark.seq) return again(*chain, header, sent);", "", FORWARD),
    ("G5", "the disk is not asked to sync", "daemon/ledger/sqlite/database.cpp",
     "PRAGMA synchronous=FULL;", "PRAGMA synchronous=NORMAL;", VFS),
    ("G5", "a sync that failed is passed over", "daemon/ledger/sqlite/writer.cpp",
     "if (!done && done.error().code != Code::kUnavailable) fail_for_good(done.error());\n  }\n  if (done) {",
     "}\n  if (done) {", VFS),
    ("G6", "a truck takes a base that knows less than it has seen", "daemon/uplink/uplink_checks.cpp",
     "if (head->size < seen->size) {\n    return fail(", "if (head->size < seen->size) return {};\n  if (head->size == ~0ULL) {\n    return fail(", FORWARD),
    ("G6", "a base takes no notice of a head above its own", "daemon/intake/intake_state.cpp",
     "if (known || hello.seen_size() > 0) {", "if (known && hello.seen_size() == ~0ULL) {", RESTORE),
    ("G6", "a truck does not compare its chain", "daemon/uplink/uplink_restore.cpp",
     "return resume.acked_chain() == view_of(*chain);", "return !resume.acked_chain().empty() || chain->empty();", RESTORE),
    ("G6", "a fork suspends nobody", "daemon/intake/devices_forks.cpp",
     "it->second.suspended = true;", "it->second.suspended = false;", RESTORE),
    ("G6", "a base signs before anybody has shown a head", "daemon/watch/office.cpp",
     "options.sign_at_once = false;", "options.sign_at_once = true;", RESTORE),
    ("G7", "a head that does not cover the leaf bounds its time", "daemon/record/brackets.cpp",
     "if (head.size > leaf) out", "if (head.size + 1 > leaf) out", ("tests/unit/record/brackets_test",)),
    ("G7", "a head the device had not seen bounds its time", "daemon/record/brackets.cpp",
     "*head.entry_leaf < seen_size", "*head.entry_leaf <= seen_size", ("tests/unit/record/brackets_test",)),
    ("G7", "a stepping clock is passed over", "daemon/watch/recorder.cpp",
     "if (std::llabs(wall - expected) > kClockStepUs) write", "if (wall - expected > kClockStepUs) write",
     ("tests/unit/watch/clock_test",)),
    ("G8", "gaps of the file keep what was erased", "daemon/ledger/sqlite/store.cpp",
     'if (auto ok = database_.run("VACUUM"); !ok) return ok;', "", ("tests/fault/ledger_canary_test",)),
    ("G8", "an erased entry is called withheld", "clients/verify/step07_bodies.cpp",
     "if (item.raw->form == BodyForm::kErased && !named) {", "if (item.raw->form == BodyForm::kErased) {", BUNDLE),
    ("G8", "a hold does not keep", "daemon/ledger/sqlite/store_erase.cpp",
     "return holds.held_by(entry);", "(void)holds;\n  return std::optional<std::string>();", ("tests/unit/ledger/ledger_erase_test",)),
    ("G9", "samples go without an entry that says so", "daemon/ledger/sqlite/store_drop.cpp",
     "const auto written = append_own(own, now_us);",
     "return leaves;\n  const auto written = append_own(own, now_us);", ("tests/unit/watch/disk_room_test",)),
    ("G9", "a refusal is not recorded", "daemon/intake/intake_room.cpp",
     "refusals_.add(std::move(body), watch::wall_now_us());", "", ("tests/unit/intake/intake_room_test",)),
    ("G9", "a full disk is taken for a failed one", "daemon/ledger/sqlite/database.cpp",
     "case SQLITE_FULL:\n    case SQLITE_BUSY:\n      return Code::kUnavailable;",
     "case SQLITE_BUSY:\n      return Code::kUnavailable;", VFS),
]


def read(path):
    with open(os.path.join(ROOT, path), encoding="utf-8") as file:
        return file.read()


def write(path, text):
    with open(os.path.join(ROOT, path), "w", encoding="utf-8") as file:
        file.write(text)


def digest(entry):
    folder = os.path.join(ROOT, os.path.dirname(entry[5][0]))
    parts = [repr(entry), read(entry[2])]
    parts += [read(os.path.join(folder, name)) for name in sorted(os.listdir(folder)) if name.endswith((".cpp", ".h"))]
    return hashlib.sha256("".join(parts).encode()).hexdigest()


def run(build, test):
    """Whether the test was built, and whether it passed."""
    target = os.path.basename(test[0])
    if subprocess.run(["ninja", "-C", build, target], capture_output=True).returncode:
        return False, False
    try:
        done = subprocess.run([os.path.join(build, test[0]), *test[1:]], capture_output=True, timeout=SECONDS)
    except subprocess.TimeoutExpired:
        return True, False
    return True, done.returncode == 0


def broken(build, entry):
    promise, what, path, old, new, test = entry
    text = read(path)
    if text.count(old) != 1:
        return f"its old text is {text.count(old)} times in {path}; mend the list"
    try:
        write(path, text.replace(old, new))
        built, passed = run(build, test)
    finally:
        write(path, text)
    if not built:
        return "the broken source does not build; mend the list"
    return f"{test[0]} passes all the same" if passed else ""


def main(arguments):
    build = os.path.abspath(arguments.pop(0))
    only = arguments[1] if arguments[:1] == ["--only"] else ""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    entries = [entry for entry in BREAKS if entry[0].startswith(only)]
    if not entries:
        sys.exit(f"promises.py: no break of '{only}'")
    done = {}
    os.makedirs(os.path.dirname(LOG), exist_ok=True)
    if os.path.exists(LOG):
        with open(LOG, encoding="utf-8") as file:
            done = {row["digest"]: row for row in map(json.loads, file)}
    whole, holes = set(), 0
    for entry in entries:
        now = digest(entry)
        wrong = done[now]["wrong"] if now in done else None
        if wrong is None:
            if entry[5] not in whole and run(build, entry[5]) != (True, True):
                sys.exit(f"promises.py: {entry[5][0]} fails on the source as it stands; mend that first")
            whole.add(entry[5])
            wrong = broken(build, entry)
            with open(LOG, "a", encoding="utf-8") as out:
                out.write(json.dumps({"digest": now, "promise": entry[0], "what": entry[1], "wrong": wrong}) + "\n")
        holes += bool(wrong)
        print(f"{entry[0]}: {entry[1]}: " + (f"NOT FOUND: {wrong}" if wrong else f"found by {entry[5][0]}"), flush=True)
    subprocess.run(["ninja", "-C", build, *{os.path.basename(test[0]) for test in whole}], capture_output=True)
    print(f"{len(entries) - holes} of {len(entries)} broken promises found")
    return 1 if holes else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
