"""Each fault of the misbehaving plugin fails the group of the kit meant for it, and no other.

  each_fault_test.py PLUGIN_CHECK MISBEHAVE [--all]

Short form: each fault against its own group and another, so that a kit that refuses everything is
seen; --all (sh tests/long.sh faults) runs all 15 groups against every fault.
"""

import json
import os
import subprocess
import sys
import tempfile

# Which group a fault is meant for: the groups are those of DEVELOPERS.md, "Write your own plugin".
MEANT = {
    "mute": 1, "ignore_refusal": 1, "bad_unit": 2, "bad_signal": 2, "bad_range": 2, "any_config": 3,
    "batch_hole": 4, "huge_batch": 4, "describe_again": 4, "hello_again": 4, "clock_jump": 4,
    "mono_back": 4, "hang": 5, "stop": 5, "lie": 6, "not_a_number": 6, "wrong_kind": 6,
    "bad_channel": 6, "hoard": 7, "forgets": 8, "ignore_term": 9, "orphan": 9, "invents": 10,
    "fragile": 11, "wall_wait": 12, "litter": 13, "chatter": 13, "open_files": 13, "misread": 14, "flood": 15, "leak": 15,
    "spin": 15, "crash": 15, "quit": 15,
}
# These begin after the first round of the script, which is what group 14 compares.
LATER = {"lie": 1200, "not_a_number": 1200, "wrong_kind": 1200, "bad_channel": 1200, "stop": 1200,
         "huge_batch": 1200, "describe_again": 1200, "hello_again": 1200, "open_files": 1200,
         "flood": 1200, "crash": 2500, "quit": 2500}
# In the full table. What is not there or goes under fails every group that lasts longer than it ...
GOES_UNDER = {"mute", "crash", "quit", "stop"}
# ... and what others may see too: a batch that never comes is missing after a reconnect, and with it
# the gap of an unplugged instrument may be; 5,000 readings a batch are a flood; NaN is NaN whatever
# the instrument says; files opened for ever are seen by the soak.
SEEN_TOO = {"batch_hole": {8, 11}, "describe_again": {8, 11}, "hello_again": {8, 11}, "huge_batch": {15},
            "not_a_number": {11}, "open_files": {15}}
HERE = os.path.dirname(os.path.abspath(__file__))
GOLDEN = os.path.join(HERE, "..", "..", "plugins", "misbehave", "golden")


def failed_groups(check, plugin, word, only):
    """Numbers of the groups that fail, with what was found."""
    with tempfile.TemporaryDirectory() as folder:
        config = os.path.join(folder, "config.toml")
        with open(os.path.join(GOLDEN, "config.toml"), encoding="utf-8") as good:
            text = good.read()
        # A counter that needs no instrument shows what one does with time.
        counts = word in ("invents",)
        if counts:
            text = ""
        if word in LATER:
            text += f"after_ms = {LATER[word]}\n"
        with open(config, "w", encoding="utf-8") as out:
            out.write(text)
        result = os.path.join(folder, "result.json")
        command = [check, "--quick", "--config", config, "--json", result, "--jobs", "5"]
        if only:
            command += ["--only", ",".join(str(n) for n in only)]
        if not counts:
            command += ["--wire", "pty", "--device", os.path.join(GOLDEN, "counter.log"),
                        "--expect", os.path.join(GOLDEN, "counter.expect.jsonl")]
        command += [plugin, "--", "--misbehave", word]
        code = subprocess.run(command, stdout=subprocess.DEVNULL, timeout=120, check=False).returncode
        with open(result, encoding="utf-8") as file:
            groups = json.load(file)["groups"]
        failed = {g["group"]: g["failed"] for g in groups if g["result"] == "failed"}
        assert code == len(failed), (word, code, failed)
        return failed


def main():
    check, plugin = sys.argv[1:3]
    whole = "--all" in sys.argv
    wrong = 0
    for word, group in MEANT.items():
        others = [6 if group == 14 else 14]
        failed = failed_groups(check, plugin, word, None if whole else sorted([group] + others))
        more = word == "mute" or whole and word in GOES_UNDER
        too = SEEN_TOO.get(word, set()) if whole else set()
        good = group in failed and (more or set(failed) <= {group} | too)
        print(f"{'ok' if good else 'NOT OK'} {word}: fails {list(failed)}, meant for {group}")
        if not good:
            wrong += 1
            for number, cases in failed.items():
                print(f"   {number}: {cases[:3]}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
