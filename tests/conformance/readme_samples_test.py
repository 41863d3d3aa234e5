"""Every sample of settings in a plugin's README is one its program accepts.

  readme_samples_test.py PROGRAM README [OLD=NEW ...]

OLD=NEW: what a sample names that is elsewhere while it is tested. A sample whose paragraph speaks of
a manifest is of another file and passed over.
"""

import re
import subprocess
import sys
import tempfile


def main():
    program, readme = sys.argv[1:3]
    changes = [word.split("=", 1) for word in sys.argv[3:]]
    with open(readme, encoding="utf-8") as file:
        text = file.read()
    tried = 0
    for match in re.finditer(r"```toml\n(.*?)```", text, re.DOTALL):
        before = text[:match.start()].rstrip().rsplit("\n\n", 1)[-1]
        if "manifest" in before:
            continue
        sample = match.group(1)
        for old, new in changes:
            sample = sample.replace(old, new)
        # What is commented out as a choice must be good too.
        for settings in (sample, re.sub(r"^# (\w+ = )", r"\1", sample, flags=re.MULTILINE)):
            with tempfile.NamedTemporaryFile("w", suffix=".toml") as file:
                file.write(settings)
                file.flush()
                done = subprocess.run([program, "--check-config", file.name], capture_output=True,
                                      text=True, check=False)
            if done.returncode != 0 or not done.stdout:
                print(f"{readme}: refused: {done.stderr}\n{settings}")
                return 1
            tried += 1
    print(f"{tried} samples of {readme} are good")
    return 0 if tried else 1


if __name__ == "__main__":
    sys.exit(main())
