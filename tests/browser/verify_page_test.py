"""The offline page of the verifier in a real browser: same answers as the program, nothing leaves it.

Usage: verify_page_test.py PAGE VERIFY MAKE_BUNDLE SCRIPT. FAIRLEAD_PICTURES names a folder for screenshots.
Known answers come from FAIRLEAD_VECTORS, or from ../shared/vectors beside the checkout.
"""

import http.server
import json
import os
import pathlib
import subprocess
import sys
import tempfile
import threading
import unittest

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from chromium import Chromium

TOP = pathlib.Path(__file__).resolve().parents[2]
PAGE, VERIFY, MAKE, SCRIPT = (os.path.abspath(p) for p in sys.argv[1:5])
VECTORS = pathlib.Path(os.environ.get("FAIRLEAD_VECTORS", TOP.parent / "shared" / "vectors"))
MARKS = ["ok", "shown", "note", "unknown", "WRONG", "MALFORMED"]
EXITS = [0, 0, 1, 4, 2, 3]


def vectors(name):
    text = (VECTORS / name).read_text()
    return [json.loads(line) for line in text.splitlines()] if name.endswith(".jsonl") else json.loads(text)


def by_program(bundle, policy):
    """Exit code of steps 0 to 11 and the steps that failed; step 12 is the program's alone."""
    run = subprocess.run([VERIFY, "check", bundle, "--policy", policy, "--json"], capture_output=True, text=True,
                         check=False)
    steps = [s for s in json.loads(run.stdout)["steps"] if s["step"] < 12]
    worst = max(MARKS.index(s["mark"]) for s in steps)
    return EXITS[worst], sorted({s["step"] for s in steps if MARKS.index(s["mark"]) > 2})


def by_script(bundle, policy):
    return subprocess.run(["/usr/bin/python3", "-B", SCRIPT, bundle, policy], capture_output=True, check=False).returncode


class Page(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        cls.at = pathlib.Path(cls.folder.name)
        subprocess.run([MAKE, cls.at], check=True)
        pins = [(cls.at / name).read_text() for name in ("log.vkey", "countersigner.vkey")]
        subprocess.run([VERIFY, "pin", "--roster", cls.at / "roster.note", "--log", pins[0], "--countersigner", pins[1],
                        "-o", cls.at / "policy"], check=True, stdout=subprocess.DEVNULL)
        cls.browser = Chromium()
        cls.browser.open(PAGE)

    @classmethod
    def tearDownClass(cls):
        cls.browser.__exit__()
        cls.folder.cleanup()

    def fresh(self):
        self.browser.open(PAGE)
        return self.browser

    def give(self, bundle, policy, seconds=60):
        """The page's answer to two files chosen by hand: exit code and failing steps."""
        b = self.fresh()
        b.choose("#policy-file", policy)
        b.wait("byId('policy-name').textContent !== 'none yet' || !byId('trouble').hidden && byId('trouble').textContent")
        b.choose("#record-file", bundle)
        b.wait("!byId('answer').hidden || byId('trouble').textContent !== ''", seconds)
        return b.run("byId('verdict-word').textContent")

    def check(self, bundle, policy):
        """Exit code and failing steps of the page's own functions on a file's bytes."""
        data = pathlib.Path(bundle).read_bytes().hex()
        self.browser.run(f"globalThis.fileBytes = fromHex('{data}'); 0")
        return self.browser.run(f"""(async () => {{
            const v = await checkBundle(fileBytes, parsePolicy({json.dumps(pathlib.Path(policy).read_text())}));
            return [v.exit, [...new Set(v.list.filter((x) => x.mark > NOTE).map((x) => x.step))].sort((a, b) => a - b)];
            }})()""")

    def test_ed25519_in_both_ways(self):
        # Sources: RFC 8032 7.1; C2SP Wycheproof; C2SP CCTV (the strict profile takes 43 of 914).
        cases = [[v["public_key"], v["message"], v["signature"], True] for v in vectors("ed25519_rfc8032.json")]
        cases += [[v["pk"], v["msg"], v["sig"], v["result"] == "valid"] for v in vectors("ed25519_wycheproof.jsonl")[1:]]
        loose = {"low_order_A", "low_order_R", "non_canonical_A", "non_canonical_R", "low_order_residue"}
        edge = vectors("ed25519_cctv_edge.jsonl")[1:]
        cases += [[v["key"], v["msg"].encode().hex(), v["sig"], not loose & set(v["flags"])] for v in edge]
        self.assertEqual(len(cases), 5 + 151 + 914)
        self.browser.run(f"globalThis.cases = {json.dumps(cases)}; 0")
        for way in ("verifySlowly", "verifyNatively"):
            got = self.browser.run(f"""(async () => {{
                await chooseVerifier();
                const out = [];
                for (const [key, message, signature] of cases) {{
                  out.push(await {way}(fromHex(key), fromHex(message), fromHex(signature)));
                }}
                return out; }})()""")
            wrong = [i for i, case in enumerate(cases) if got[i] is not case[3]]
            self.assertEqual(wrong, [], way)
            self.assertEqual(sum(got[156:]), 43, way)
        self.assertTrue(self.browser.run("verifySignature === verifyNatively"))

    def test_sha2(self):
        # FIPS 180-4 examples: "abc", the empty text, and a million times "a" (NIST CSRC, from memory).
        self.assertEqual(self.browser.run("hex(sha256(ASCII.encode('abc')))"),
                         "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad")
        self.assertEqual(self.browser.run("hex(sha256(new Uint8Array(0)))"),
                         "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855")
        self.assertEqual(self.browser.run("hex(sha256(new Uint8Array(1000000).fill(97)))"),
                         "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0")
        self.assertTrue(self.browser.run("""(async () => {
            for (let size = 0; size < 300; ++size) {
              const bytes = Uint8Array.from({length: size}, (_, i) => i * 7 + size);
              for (const [name, ours] of [["SHA-256", sha256(bytes)], ["SHA-512", sha512(bytes)]]) {
                if (!same(ours, new Uint8Array(await crypto.subtle.digest(name, bytes)))) return name + size;
              }
            }
            return true; })()"""))

    def test_merkle_probes(self):
        # Source: github.com/transparency-dev/merkle testdata; the one accepted probe with roots of 12
        # bytes is refused here, as every root that is not 32 bytes is.
        for name, accepted in (("inclusion", 6), ("consistency", 5)):
            probes = vectors(f"merkle_probes_{name}.jsonl")[1:]
            self.assertEqual(len(probes), 98)
            for probe in probes:  # Whole numbers beyond 2^53 go in as text.
                for key in ("leafIdx", "treeSize", "size1", "size2"):
                    probe[key] = str(probe.get(key, 0))
            self.browser.run(f"globalThis.probes = {json.dumps(probes)}; 0")
            got = self.browser.run("""probes.map((p) => { try {
                const hash = (text) => fromBase64(text), proof = (p.proof ?? []).map(hash);
                return p.root === undefined
                  ? verifyConsistency(BigInt(p.size1), hash(p.root1), BigInt(p.size2), hash(p.root2), proof)
                  : verifyInclusion(BigInt(p.leafIdx), BigInt(p.treeSize), hash(p.leafHash), proof, hash(p.root));
                } catch (error) { if (error instanceof Malformed) return false; throw error; } })""")
            odd = [p.get("root1") == "ZG9uJ3QgY2FyZSAy" for p in probes]
            self.assertEqual([g for g in got], [not p["wantErr"] and not o for p, o in zip(probes, odd)])
            self.assertEqual(sum(got), accepted)

    def test_notes_and_checkpoints(self):
        # Sources: C2SP signed-note and tlog-cosignature; golang.org/x/mod sumdb/note; a Tessera log.
        notes, log = vectors("signed_notes.json"), vectors("tlog_small_complete_log.json")
        for known in notes[:2]:
            good = f"verifyNote(parseNote(ASCII.encode({json.dumps(known['note'])})), parseKey('{known['vkey']}'))"
            self.assertTrue(self.browser.run(good))
            self.assertFalse(self.browser.run(good.replace("This is", "That is").replace("If you", "As you")))
        for key in notes[2]["vkeys"]:
            self.assertTrue(self.browser.run(f"(() => {{ try {{ parseKey('{key}'); }} catch {{ return true; }} }})()"), key)
        cosigned = notes[3]
        self.assertEqual(self.browser.run(f"""(() => {{ const n = parseNote(ASCII.encode({json.dumps(cosigned["note"])}));
            const c = parseCheckpoint(n.text); return [c.origin, Number(c.size), toBase64(c.root), n.signatures[1].id]; }})()"""),
            [cosigned["origin"], cosigned["size"], cosigned["root_b64"], cosigned["cosig_key_id"]])
        texts = log["checkpoints_by_size_0_to_15"]
        self.assertEqual(len(texts), 16)
        for text in texts:
            self.assertTrue(self.browser.run(
                f"verifyNote(parseNote(ASCII.encode({json.dumps(text)})), parseKey('{log['vkey']}'))"), text)

    def test_good_bundles_and_the_report(self):
        policy = self.at / "policy"
        for name, exit_code, words in (("cosigned.flb", 0, "PROVEN and countersigned"), ("plain.flb", 1, "PROVEN, with notes"),
                                       ("report.pdf", 0, "PROVEN and countersigned")):
            self.assertIn(words, self.give(self.at / name, policy))
            self.assertEqual(by_program(self.at / name, policy)[0], exit_code)
        self.assertEqual(by_script(self.at / "cosigned.flb", policy), 0)
        page = self.browser.run("document.body.innerText")
        self.assertIn("Checked: the attached record. Not checked: the words on these pages; compare them with this list.", page)
        self.assertIn("identity_before_touch met", page)
        self.assertIn("authority_before_touch deviated", page)
        self.assertRegex(page, r"fingerprint ([0-9a-f]{8} ){7}[0-9a-f]{8}")

    def test_marks_agree_step_by_step(self):
        # What is only shown, neither good nor bad, each may word and count in its own way.
        for name in ("cosigned.flb", "plain.flb"):
            run = subprocess.run([VERIFY, "check", self.at / name, "--policy", self.at / "policy", "--json"],
                                 capture_output=True, text=True, check=False)
            program = [(s["step"], s["mark"]) for s in json.loads(run.stdout)["steps"] if s["step"] < 12 and s["mark"] != "shown"]
            data, policy = (self.at / name).read_bytes().hex(), (self.at / "policy").read_text()
            page = self.browser.run(f"""(async () => (await checkBundle(fromHex('{data}'), parsePolicy({json.dumps(policy)})))
                .list.filter((v) => v.step < 12 && v.mark !== SHOWN).map((v) => [v.step, MARKS[v.mark]]))()""")
            self.assertEqual([tuple(p) for p in page], program)

    def test_resealed_bundles_agree(self):
        bundles = sorted(self.at.glob("reseal_*.flb"))
        self.assertGreaterEqual(len(bundles), 13)
        for bundle in bundles:
            code, steps = self.check(bundle, self.at / "policy")
            self.assertGreaterEqual(code, 2, bundle.name)
            self.assertEqual((code, steps), by_program(bundle, self.at / "policy"), bundle.name)

    def test_a_later_generation_with_lost_bodies_agrees(self):
        for name, code in (("later", 1), ("later_withheld", 2)):
            bundle, policy = self.at / f"{name}.flb", self.at / "later.policy"
            page, program = self.check(bundle, policy), by_program(bundle, policy)
            self.assertEqual(page, list(program), name)
            self.assertEqual(page[0], code, name)

    def test_every_attack_of_a_dishonest_base_agrees(self):
        folder = self.at / "attacks"
        folder.mkdir()
        subprocess.run([MAKE, folder, "attacks"], check=True)
        rows = [line.split("\t") for line in (folder / "attacks.tsv").read_text().splitlines()]
        self.assertGreaterEqual(len(rows), 60)
        for name, _, what in rows:
            bundle, policy = folder / f"{name}.flb", folder / f"{name}.policy"
            page, program = self.check(bundle, policy), by_program(bundle, policy)
            self.assertEqual(page[0], program[0], what)
            if page[0] != 3:  # What cannot be read is not checked further.
                self.assertEqual(page[1], program[1], what)

    def test_altered_bits_and_cut_files_are_never_accepted(self):
        self.check(self.at / "cosigned.flb", self.at / "policy")
        policy = json.dumps((self.at / "policy").read_text())
        accepted = self.browser.run(f"""(async () => {{
            await chooseVerifier();
            const policy = parsePolicy({policy}), size = fileBytes.length, out = [];
            for (let i = 0; i < 300; ++i) {{
              const bit = (i * 1000003 + 17) % (size * 8);
              fileBytes[bit >> 3] ^= 1 << (bit & 7);
              if ((await checkBundle(fileBytes, policy)).exit < 2) out.push(bit);
              fileBytes[bit >> 3] ^= 1 << (bit & 7);
            }}
            for (let end = 0; end < size; end += 97) {{
              if ((await checkBundle(fileBytes.subarray(0, end), policy)).exit !== 3) out.push(-end);
            }}
            return [out, (await checkBundle(fileBytes, policy)).exit]; }})()""")
        self.assertEqual(accepted, [[], 0])

    def test_dropping_both_files_at_once(self):
        b = self.fresh()
        b.drop(200, 200, self.at / "policy", self.at / "report.pdf")
        b.wait("!byId('answer').hidden")
        self.assertIn("PROVEN and countersigned", b.run("byId('verdict-word').textContent"))
        self.assertEqual(b.run("document.activeElement.id"), "answer")

    def test_pages_to_compare_and_wrong_files_are_told_in_words(self):
        b = self.fresh()
        b.choose("#record-file", self.at / "cosigned.flb")
        b.wait("byId('trouble').textContent !== ''")
        self.assertIn("keys are never taken from a report", b.run("byId('trouble').textContent"))
        (self.at / "bad.policy").write_text("fairlead policy v1\nlog nonsense\n")
        b.choose("#policy-file", self.at / "bad.policy")
        b.wait("byId('trouble').textContent.includes('policy: line 2')")
        (self.at / "empty.pdf").write_bytes(b"%PDF-1.7\n")
        b = self.fresh()
        b.choose("#record-file", self.at / "empty.pdf")
        b.wait("byId('trouble').textContent.includes('carries no bundle')")
        b.choose("#policy-file", self.at / "policy")
        b.choose("#record-file", self.at / "cosigned.flb")
        b.wait("!byId('answer').hidden")
        self.assertIn("empty.pdf cannot be compared", b.run("byId('notes').innerText"))

    def test_keyboard(self):
        b = self.fresh()
        order = []
        for _ in range(3):
            b.press("Tab")
            order.append(b.run("document.activeElement.id"))
        self.assertEqual(order[:2], ["policy-file", "record-file"])
        self.give(self.at / "cosigned.flb", self.at / "policy")
        b.run("document.querySelector('#checks summary').focus()")
        b.press("Enter", text="\r")
        self.assertTrue(b.run("byId('checks').open"))
        self.assertIn("12 findings judged again", b.run("byId('checks').innerText"))

    def test_narrow_and_wide(self):
        pictures = os.environ.get("FAIRLEAD_PICTURES")
        data = bytearray((self.at / "cosigned.flb").read_bytes())
        data[data.find(b"\x7f" * 100)] ^= 1  # In the picture.
        (self.at / "altered.flb").write_bytes(data)
        for width in (360, 1280):
            self.browser.size(width, 800)
            for name in ("open", "cosigned", "altered"):
                if name == "open":
                    self.fresh()
                else:
                    self.give(self.at / f"{name}.flb", self.at / "policy")
                    self.browser.run("byId('checks').open = true")
                self.assertLessEqual(self.browser.run("document.documentElement.scrollWidth"), width, name)
                if pictures:
                    self.browser.picture(f"{pictures}/verify-page-{name}-{width}.png")
        self.assertIn("DISPROVEN", self.browser.run("byId('verdict-word').textContent"))

    def test_ten_thousand_entries_with_the_page_alive(self):
        subprocess.run([MAKE, self.at, "10000"], check=True)
        b = self.fresh()
        b.run("""globalThis.longest = 0; new PerformanceObserver((list) => {
            for (const task of list.getEntries()) longest = Math.max(longest, task.duration);
            }).observe({type: "longtask"}); 0""")
        b.choose("#policy-file", self.at / "big.policy")
        b.choose("#record-file", self.at / "big.flb")
        b.wait("!byId('answer').hidden", 240)
        self.assertIn("PROVEN and countersigned", b.run("byId('verdict-word').textContent"))
        longest = b.run("longest")
        print(f"10,000 entries; longest the page stood still: {longest:.0f} ms")
        self.assertLess(longest, 5000)

    def test_nothing_leaves_the_page(self):
        calls = []

        class Listener(http.server.BaseHTTPRequestHandler):
            def do_GET(self):
                calls.append(self.path)
                self.send_error(404)

            do_POST = do_GET

            def log_message(self, *_):
                pass

        server = http.server.HTTPServer(("127.0.0.1", 0), Listener)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        there = f"http://127.0.0.1:{server.server_port}"
        self.fresh()
        refused = self.browser.run(f"""(async () => {{
            const out = [];
            await fetch("{there}/fetch", {{mode: "no-cors"}}).catch(() => out.push("fetch"));
            await new Promise((end) => {{ const image = new Image(); image.onerror = () => {{ out.push("image"); end(); }};
              image.onload = end; image.src = "{there}/image"; }});
            await new Promise((end) => {{ const s = document.createElement("script"); s.onerror = () => {{ out.push("script"); end(); }};
              s.onload = end; s.src = "{there}/script"; document.head.append(s); }});
            const inline = document.createElement("script");
            inline.textContent = "globalThis.injected = true";
            document.head.append(inline);
            navigator.sendBeacon("{there}/beacon", "x");
            try {{ new WebSocket("{there.replace('http', 'ws')}/socket"); }} catch {{ out.push("socket"); }}
            await new Promise((end) => setTimeout(end, 500));
            return [out, globalThis.injected ?? false]; }})()""")
        server.shutdown()
        self.assertEqual(refused[0][:3], ["fetch", "image", "script"])
        self.assertFalse(refused[1])
        self.assertEqual(calls, [])


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=2)
