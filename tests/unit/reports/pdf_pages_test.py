"""The claim report's PDF at both sizes: accepted by checkers, nothing outside its margins, fonts inside.

Usage: pdf_pages_test.py MAKE_REPORT_PAGES. Checked with `qpdf --check`, with PDFBox preflight as PDF/A-1b
(its validator knows that part only) where just those faults may come that PDF/A-3 lifts, and with
poppler's tools. FAIRLEAD_PICTURES names a folder for pictures of the pages.
"""

import os
import pathlib
import re
import subprocess
import sys
import tempfile
import unittest
import xml.etree.ElementTree as tree

MAKE = os.path.abspath(sys.argv[1])
SIZES = {"A4": (595.28, 841.89), "LETTER": (612, 792)}
MARGIN = 15 / 25.4 * 72  # page.css
JARS = ["preflight", "pdfbox2", "xmpbox", "fontbox2", "commons-logging", "commons-io", "javax.activation", "jaxb-api"]
# ISO 19005-3 (PDF/A-3) allows what 19005-1 forbids: version and part number, CIDSet absent, embedded
# files, transparency.
LIFTED = ("7.11.2", "3.1.11", "1.4.7", "1.2.9", "4.1.2")


def run(*command, good=(0,)):
    # poppler writes emoji of the metadata as halves of a pair, which is no UTF-8.
    done = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)
    if done.returncode not in good:
        raise AssertionError(f"{command}: {done.returncode}\n{done.stdout}\n{done.stderr}")
    return done.stdout


class Pdf(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        cls.at = pathlib.Path(cls.folder.name)
        subprocess.run([MAKE, cls.at, "--pdf"], check=True)
        made = sorted(path.stem for path in cls.at.glob("*.pdf"))
        if made != ["hostile-A4", "long-LETTER", "sample-A4", "sample-LETTER", "scenario-LETTER"]:
            raise AssertionError(made)

    @classmethod
    def tearDownClass(cls):
        cls.folder.cleanup()

    def each(self):
        return [(path, path.stem.split("-")[1]) for path in sorted(self.at.glob("*.pdf"))]

    def test_qpdf(self):
        for path, _ in self.each():
            self.assertIn("No syntax or stream encoding errors", run("qpdf", "--check", path))

    def test_preflight(self):
        classes = ":".join(f"/usr/share/java/{jar}.jar" for jar in JARS)
        for path, size in self.each():
            if path.stem in ("sample-LETTER", "long-LETTER"):
                continue  # Same parts as on A4; a start of Java costs a second.
            out = run("java", "-cp", classes, "org.apache.pdfbox.preflight.Validator_A1b", path, good=(0, 255))
            codes = re.findall(r"^(\d+(?:\.\d+)*) :", out, re.M)
            self.assertIn("is not a valid PDF/A-1b file", out)
            self.assertTrue(codes)
            # The checker takes "octet-stream", the attached file's type, for the keyword: once a file.
            self.assertLessEqual(codes.count("1.2.2"), 1, out)
            for code in codes:
                self.assertIn(code, (*LIFTED, "1.2.2"), out)

    def test_fonts_are_inside(self):
        for path, _ in self.each():
            rows = run("pdffonts", path).splitlines()[2:]
            self.assertGreater(len(rows), 1)
            for row in rows:
                self.assertEqual(re.split(r"\s+", row.strip())[-5], "yes", row)

    def test_nothing_leaves_its_margins(self):
        for path, size in self.each():
            boxes = tree.fromstring(run("pdftotext", "-bbox", path, "-").encode())
            space = {"x": "http://www.w3.org/1999/xhtml"}
            words = 0
            for page in boxes.iterfind(".//x:page", space):
                wide, high = float(page.get("width")), float(page.get("height"))
                self.assertAlmostEqual(wide, SIZES[size][0], delta=0.5)
                self.assertAlmostEqual(high, SIZES[size][1], delta=0.5)
                for word in page.iterfind("x:word", space):
                    words += 1
                    self.assertGreaterEqual(float(word.get("xMin")), MARGIN - 2, f"{path.stem}: {word.text}")
                    self.assertLessEqual(float(word.get("xMax")), wide - MARGIN + 2, f"{path.stem}: {word.text}")
                    self.assertGreaterEqual(float(word.get("yMin")), 0, word.text)
                    self.assertLessEqual(float(word.get("yMax")), high, word.text)
            self.assertGreater(words, 800)

    def test_page_one_holds_its_nine_blocks(self):
        for path, _ in self.each():
            first = " ".join(run("pdftotext", "-f", "1", "-l", "1", path, "-").split())
            for block in ("Claim report", "Answer", "Shows against it", "Shows for it", "Does not show",
                          "Measured facts", "Pictures ", "Custody, drawn to time", "What would settle it",
                          "The record", "or that everything done was recorded", "Page 1 of"):
                self.assertIn(block, first, path)
            self.assertIn("Answers in full", run("pdftotext", "-f", "2", "-l", "2", path, "-"), path)
            # What page 1 has no room for says where it stands whole.
            if path.name.startswith(("hostile", "long")):
                self.assertIn("in full on page 2", first)
                self.assertRegex(first, r"(?i)in full on page (?!2\b)\d")

    def test_bookmarks_running_heads_and_the_attached_file(self):
        for path, _ in self.each():
            objects = run("qpdf", "--json", path)
            for key in ("/Outlines", "/AFRelationship", "/Lang"):
                self.assertIn(key, objects)
            self.assertRegex(run("pdftotext", "-f", "3", "-l", "3", path, "-"), r"Claim report, job .*\n")
            out = self.at / "out.flb"
            run("pdfdetach", "-savefile", "bundle.flb", "-o", out, path)
            self.assertEqual(out.read_bytes(), b"FLB1 sample")

    def test_hostile_text_is_read(self):
        text = run("pdftotext", self.at / "hostile-A4.pdf", "-")
        for piece in ("<script>alert(1)</script>", "{{report.title}}", "[U+202E]detrever", "\u8eca", "\u043c\u0430\u0448"):
            self.assertIn(piece, text)

    def test_form_is_blank_and_names_counsel(self):
        text = run("pdftotext", "-layout", self.at / "sample-A4.pdf", "-")
        at = text.index("Certification of the record: blank form")
        for piece in ("Ask counsel", "902(11)", "902(13)", "902(14)", "nobody has certified"):
            self.assertIn(piece, text[at:])

    def test_pictures(self):
        if not os.environ.get("FAIRLEAD_PICTURES"):
            self.skipTest("FAIRLEAD_PICTURES is not set")
        for path, _ in self.each():
            run("pdftoppm", "-r", "70", "-png", path, os.path.join(os.environ["FAIRLEAD_PICTURES"], path.stem))


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=2)
