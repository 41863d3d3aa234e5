"""Claim report, summary and job sheet in a real browser: accessible, nothing overflows at 320, 360 and
1280 pixels, no script runs, nothing is asked for.

Usage: report_pages_test.py MAKE_REPORT_PAGES. FAIRLEAD_PICTURES names a folder for screenshots. What is
checked are success criteria of WCAG 2.1 (W3C Recommendation, 5 June 2018), named beside each check; the
contrast formula is its definition of "contrast ratio" and "relative luminance".
"""

import os
import pathlib
import subprocess
import sys
import tempfile
import unittest

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
from chromium import Chromium

MAKE = os.path.abspath(sys.argv[1])
# Page, how its title begins, how many pieces of text it has at least.
PAGES = [("sample-A4", "Claim report, job ", 200), ("scenario-A4", "Claim report, job ", 200),
         ("hostile-A4", "Claim report, job ", 200), ("long-A4", "Claim report, job ", 200), ("summary", "Compliance summary, ", 200),
         ("summary-hostile", "Compliance summary, ", 200), ("sheet", "Job sheet ", 50),
         ("sheet-hostile", "Job sheet ", 50)]

NAMES = """(() => {
  const bad = [];
  const name = e => (e.getAttribute('aria-label') || e.getAttribute('alt') || e.textContent || '').trim();
  for (const e of document.querySelectorAll('img, svg[role=img], table th:not(:empty), figure, [role=group]'))
    if (!name(e)) bad.push(e.outerHTML.slice(0, 120));
  for (const e of document.querySelectorAll('svg'))
    if (e.getAttribute('role') !== 'img' || !e.querySelector('title')) bad.push(e.outerHTML.slice(0, 120));
  for (const e of document.querySelectorAll('img')) if (!e.alt) bad.push('img without alt');
  return bad; })()"""

HEADINGS = """[...document.querySelectorAll('h1,h2,h3,h4')].map(e => [Number(e.tagName[1]), e.textContent.trim().length])"""

TABLES = """(() => {
  const bad = [];
  for (const t of document.querySelectorAll('table')) {
    const head = t.querySelector('thead tr');
    if (!head) { if (!t.getAttribute('aria-label')) bad.push('no head, no label: ' + t.className); continue; }
    const columns = [...head.children].reduce((n, c) => n + c.colSpan, 0);
    for (const r of t.querySelectorAll('tbody tr')) {
      const n = [...r.children].reduce((m, c) => m + c.colSpan, 0);
      if (n !== columns) bad.push(`${t.className}: ${n} cells under ${columns} heads`);
    }
    for (const c of head.children) if (c.tagName !== 'TH') bad.push(t.className + ': head cell is no th');
  }
  return bad; })()"""

CONTRAST = """(() => {
  const parse = c => c.match(/[\\d.]+/g).map(Number);
  const lum = ([r, g, b]) => { const f = v => { v /= 255; return v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; };
    return 0.2126 * f(r) + 0.7152 * f(g) + 0.0722 * f(b); };
  const back = e => { for (; e; e = e.parentElement) { const c = parse(getComputedStyle(e).backgroundColor);
    if (c.length < 4 || c[3] > 0) return c; } return [255, 255, 255]; };
  const under = e => { const r = e.getBoundingClientRect(), x = r.left + r.width / 2, y = r.top + r.height / 2;
    let c = [255, 255, 255];
    for (const b of e.closest('svg').querySelectorAll('rect, polygon')) { const q = b.getBoundingClientRect(), f = getComputedStyle(b).fill;
      if (f.startsWith('rgb') && q.left <= x && q.right >= x && q.top <= y && q.bottom >= y) c = parse(f); }
    return c; };
  const bad = []; let looked = 0;
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    if (!walk.currentNode.textContent.trim() || e.closest('style, title, .running')) continue;
    const style = getComputedStyle(e);
    const ink = parse(e.closest('svg') ? (style.fill.startsWith('rgb') ? style.fill : 'rgb(0,0,0)') : style.color);
    const a = lum(ink), b = lum(e.closest('svg') ? under(e) : back(e));
    const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    ++looked;
    if (ratio < 4.5) bad.push(ratio.toFixed(2) + ' ' + walk.currentNode.textContent.trim().slice(0, 40));
  }
  return {looked, bad}; })()"""

COLOURS = """(() => {
  const bad = new Set();
  for (const e of document.querySelectorAll('body, body *')) {
    if (e.tagName === 'IMG') continue;
    const style = getComputedStyle(e);
    for (const of of ['color', 'backgroundColor', 'borderTopColor', 'borderBottomColor', 'fill', 'stroke']) {
      const c = style[of].match(/[\\d.]+/g);
      if (style[of].startsWith('rgb') && !(c[0] === c[1] && c[1] === c[2])) bad.add(of + ' ' + style[of]);
    }
  }
  return [...bad]; })()"""

OVERFLOW = """(() => {
  const bad = [];
  const wide = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth > wide) bad.push('the page scrolls sideways');
  for (const e of document.querySelectorAll('body *')) {
    if (e.closest('.running') || e.closest('svg')) continue;
    const style = getComputedStyle(e);
    if (style.overflowX === 'auto' || style.overflowX === 'scroll') continue;
    if (e.closest('.wide')) continue;
    const r = e.getBoundingClientRect();
    if (r.width > 0 && r.right > wide + 1) bad.push(e.tagName + '.' + e.className + ' ' + Math.round(r.right) + ' ' + e.textContent.trim().slice(0, 40));
    if (e.children.length === 0 && e.scrollWidth > e.clientWidth + 1 && style.display !== 'inline' && e.clientWidth > 0)
      bad.push('text cut in ' + e.tagName + '.' + e.className + ': ' + e.textContent.trim().slice(0, 40));
  }
  return bad.slice(0, 8); })()"""


class ReportPages(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        cls.at = pathlib.Path(cls.folder.name)
        subprocess.run([MAKE, cls.at], check=True)
        cls.browser = Chromium()

    @classmethod
    def tearDownClass(cls):
        cls.browser.__exit__()
        cls.folder.cleanup()

    def each(self):
        for name, title, pieces in PAGES:
            with self.subTest(page=name):
                self.browser.open(self.at / f"{name}.html")
                yield name, title, pieces

    def test_language_title_and_landmark(self):  # 3.1.1, 2.4.2, 1.3.1
        for _, title, _ in self.each():
            self.assertEqual(self.browser.run("document.documentElement.lang"), "en")
            self.assertTrue(self.browser.run("document.title").startswith(title))
            self.assertEqual(self.browser.run("document.querySelectorAll('main').length"), 1)

    def test_headings_in_order(self):  # 1.3.1, 2.4.6
        for _ in self.each():
            levels = self.browser.run(HEADINGS)
            self.assertEqual(sum(1 for level, _ in levels if level == 1), 1)
            self.assertEqual(levels[0][0], 1)
            for (before, _), (level, letters) in zip(levels, levels[1:]):
                self.assertLessEqual(level, before + 1)
                self.assertGreater(letters, 0)

    def test_pictures_and_drawings_have_names(self):  # 1.1.1
        for name, _, _ in self.each():
            self.assertEqual(self.browser.run(NAMES), [])
            if name == "sample-A4":
                self.assertGreater(self.browser.run("document.querySelectorAll('svg').length"), 5)
                self.assertGreater(self.browser.run("document.querySelectorAll('img').length"), 2)

    def test_tables_have_heads(self):  # 1.3.1
        for _ in self.each():
            self.assertEqual(self.browser.run(TABLES), [])

    def test_contrast(self):  # 1.4.3
        for _, _, pieces in self.each():
            found = self.browser.run(CONTRAST)
            self.assertGreater(found["looked"], pieces)
            self.assertEqual(found["bad"], [])

    def test_nothing_is_told_by_colour(self):  # 1.4.1; prints in black and white
        for _ in self.each():
            self.assertEqual(self.browser.run(COLOURS), [])

    def test_nothing_overflows(self):  # 1.4.10 asks for 320 pixels
        for name, _, _ in self.each():
            for width in (320, 360, 1280):
                self.browser.size(width, 900)
                self.assertEqual(self.browser.run(OVERFLOW), [], f"{name} at {width}")
                if os.environ.get("FAIRLEAD_PICTURES"):
                    self.browser.picture(os.path.join(os.environ["FAIRLEAD_PICTURES"], f"{name}-{width}.png"))

    def test_named_in_the_accessibility_tree(self):  # 4.1.2, as Chromium tells a screen reader
        for name, heads in (("sample-A4", 20), ("summary", 20), ("sheet", 4)):
            self.browser.open(self.at / f"{name}.html")
            self.browser.call("Accessibility.enable")
            nodes = self.browser.call("Accessibility.getFullAXTree")["nodes"]
            unnamed = [n for n in nodes if not n.get("ignored") and n["role"]["value"] in ("image", "heading")
                       and not n.get("name", {}).get("value")]
            self.assertEqual(unnamed, [])
            self.assertGreater(sum(1 for n in nodes if n["role"]["value"] == "columnheader"), heads)

    def test_hostile_text_runs_nothing_and_is_read(self):
        self.browser.events.clear()
        # A summary's titles are shortened, so that not every piece stands there.
        pieces = ("<script>alert(1)</script>", "{{report.title}}", "[U+202E]detrever", "\U0001F600", "\u05e9\u05dc\u05d5\u05dd",
                  "\u0645\u0631\u062d\u0628\u0627", "\u8eca")
        for name, wanted in (("hostile-A4", pieces), ("summary-hostile", pieces[:1]), ("sheet-hostile", pieces[:1])):
            self.browser.open(self.at / f"{name}.html")
            self.assertEqual(self.browser.run("document.querySelectorAll('script, iframe, object, embed, form').length"), 0)
            self.assertEqual(self.browser.run("[...document.images].filter(i => !i.src.startsWith('data:')).length"), 0)
            text = self.browser.run("document.body.innerText")
            for piece in wanted:
                self.assertIn(piece, text)
        asked = [u for u in self.browser.requests() if not u.startswith(("file:", "data:"))]
        self.assertEqual(asked, [])
        self.assertEqual(self.browser.complaints(), [])


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=2)
