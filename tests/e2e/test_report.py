#!/usr/bin/env python3
"""The page to look at: well-formed, nothing fetched, and seen by a browser on a telephone's width,
in the dark and on paper."""
import http.server
import pathlib
import re
import shutil
import struct
import subprocess
import sys
import tempfile
import threading
import unittest
import xml.etree.ElementTree as ElementTree
import zlib

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
import past
from journey import ASAN, PROFILES, Journey, main

HTML = "{http://www.w3.org/1999/xhtml}"
SVG = "{http://www.w3.org/2000/svg}"
CHROMIUM = shutil.which("chromium")
BROWSER_S = 120  # a loaded machine takes its time to start one
TELEPHONE = 360
HOSTILE = "<script>document.title='x'</script>&\"'\u202e"
LONG = "W" * 60

# What the browser says of a page within a frame of that width.
PROBE = """<!DOCTYPE html><body style="margin:0"><iframe id="f" src="{page}"
style="width:{width}px;height:800px;border:0"></iframe><pre id="said"></pre><script>
f.onload = function () {{
  var d = f.contentDocument, e = d.documentElement, low = Infinity;
  d.querySelectorAll("body *").forEach(function (n) {{
    low = Math.min(low, parseFloat(f.contentWindow.getComputedStyle(n).fontSize)); }});
  said.textContent = "width " + e.scrollWidth + " title " + d.title + " smallest " + low +
    " days " + [...d.querySelectorAll("li")].filter(n => n.offsetHeight > 0).length;
}};</script></body>"""


class Report(Journey):
    def report(self, *arguments, program=None):
        path = self.home / "report.html"
        done = self.run_program("report", "--out", path, *arguments,
                                **({"program": program} if program else {}))
        self.assert_ends(done, 0)
        self.assertEqual(done.out, "")
        self.assertEqual(path.stat().st_mode & 0o777, 0o600)
        return path

    def ride(self):
        self.assert_ends(self.run_program("ride", PROFILES[0], "--rate", 10000), 0)

    def check_page(self, path):
        """Parsed as XML; only elements that show something, no way out of the file."""
        page = ElementTree.parse(path).getroot()
        self.assertEqual(page.tag, HTML + "html")
        tags = {element.tag.split("}")[1] for element in page.iter()}
        self.assertFalse(tags & {"script", "img", "link", "iframe", "object", "embed", "a", "form"})
        for element in page.iter():
            self.assertFalse([name for name in element.keys()
                              if name.startswith("on") or name in ("src", "href", "style")])
        style = page.find(f".//{HTML}style").text
        self.assertNotIn("url(", style)
        self.assertNotIn("@import", style)
        for drawing in page.iter(SVG + "svg"):
            self.assertTrue(drawing.findtext(SVG + "title"))
        return page

    def text(self, page):
        return " ".join("".join(page.itertext()).split())

    # ---- what is in it ----

    def test_no_rides(self):
        path = self.home / "report.html"
        done = self.run_program("report", "--out", path)
        self.assert_ends(done, 1, "no rides yet")
        self.assertFalse(path.exists())

    def test_one_ride(self):
        self.ride()
        page = self.check_page(self.report(program=ASAN))
        text, ride = self.text(page), self.show(1)
        for words in ("1 block", "too few before it to say", "Ride 1: 20/10",
                      f"{ride['work_j'] / 1000:.1f} kJ in 8:00", "Two blocks ridden to the end",
                      "not a medical device"):
            self.assertIn(words, text)
        self.assertEqual(len(list(page.iter(SVG + "svg"))), 1)
        self.assertEqual(len([row for row in page.iter(HTML + "tr")
                              if row[0].text and re.match("work . of 8", row[0].text)]), 8)
        self.assertEqual(len([shape for shape in page.iter(SVG + "rect")
                              if shape.get("class") == "work"]), 8)

    def test_to_stdout(self):
        self.ride()
        done = self.run_program("report")
        self.assert_ends(done, 0)
        self.assertEqual(done.out, self.report().read_text())

    def test_the_block_that_is_asked_for(self):
        self.ride()
        self.assert_ends(self.run_program("ride", self.short, "--rate", 10000), 0)
        self.assertIn("Ride 2: Invented", self.text(self.check_page(self.report())))
        self.assertIn("Ride 1: 20/10", self.text(self.check_page(self.report("--ride", 1))))
        only = self.text(self.check_page(self.report("--profile", "20/10")))
        self.assertIn("only 20/10.", only)
        self.assertNotIn("Invented", only)
        self.assert_ends(self.run_program("report", "--ride", 9), 1, "there is no ride 9")

    def test_hostile_texts(self):
        self.ride()
        past.remember(self.database, [
            {"started_unix_s": past.at(2030, 1, 7), "title": HOSTILE, "bike": HOSTILE,
             "reason": HOSTILE, "note": HOSTILE}])
        page = self.check_page(self.report("--before", "2030-01-14"))
        texts = [element.text for element in page.iter(HTML + "bdi")]
        self.assertGreaterEqual(sum(HOSTILE in (text or "") for text in texts), 5)

    def test_damaged(self):
        self.ride()
        past.remember(self.database, [{"started_unix_s": past.at(2030, 1, 7)}])
        past.change_journal(self.database, 2, lambda text: b"junk\n")
        text = self.text(self.check_page(self.report("--ride", 2)))
        self.assertIn("Its journal is damaged in line 1, so there is no drawing.", text)

    def test_cannot_be_written(self):
        self.ride()
        folder = self.home / "folder"
        folder.mkdir()
        self.assertNotEqual(self.run_program("report", "--out", folder).status, 0)
        self.assertEqual(list(folder.iterdir()), [])

    def test_ten_years(self):
        self.ride()
        past.remember(self.database, past.ten_years(past.at(2025, 11, 14)))
        page = self.check_page(self.report("--before", "2025-11-17", program=ASAN))
        self.assertIn("3 Nov to 16 Nov 2025", self.text(page))
        self.assertGreater(len(list(page.iter(SVG + "circle"))), 70)
        self.assertEqual(len(list(page.iter(SVG + "svg"))), 2)

    # ---- in a browser ----

    def browse(self, *arguments):
        # It puts a socket into its temporary folder, whose name must be short.
        with tempfile.TemporaryDirectory(dir="/tmp", ignore_cleanup_errors=True) as folder:
            done = subprocess.run(
                [CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars",
                 f"--user-data-dir={folder}", *map(str, arguments)],
                env=dict(self.env, TMPDIR=folder), capture_output=True, timeout=BROWSER_S,
                check=False)
        self.assertEqual(done.returncode, 0, done.stderr.decode()[-600:])
        return done.stdout.decode()

    def probe(self, path, width):
        probe = self.write("probe.html", PROBE.format(page=path.name, width=width))
        out = self.browse("--allow-file-access-from-files", "--virtual-time-budget=5000",
                          "--dump-dom", f"file://{probe}")
        found = re.search(r'"said">width (\d+) title (.*) smallest ([\d.]+) days (\d+)<', out)
        self.assertIsNotNone(found, out[-400:])
        return int(found[1]), found[2], float(found[3]), int(found[4])

    @unittest.skipIf(CHROMIUM is None, "no chromium")
    def test_telephone(self):
        """360 columns of pixels: nothing to scroll sideways, letters that can be read."""
        self.ride()
        past.remember(self.database, [{"started_unix_s": past.at(2030, 1, 7), "title": LONG,
                                       "bike": LONG, "note": 4 * LONG}])
        path = self.report("--before", "2030-01-14")
        width, title, smallest, days = self.probe(path, TELEPHONE)
        self.assertEqual(width, TELEPHONE)
        self.assertEqual(title, "Blocks")
        self.assertGreaterEqual(smallest, 11)
        self.assertEqual(days, 1)
        width, _, _, days = self.probe(path, 1000)
        self.assertEqual((width, days), (1000, 14))

    @unittest.skipIf(CHROMIUM is None, "no chromium")
    def test_nothing_is_fetched(self):
        """Served by a server of its own, which sees what is asked for."""
        self.ride()
        folder, asked = self.report().parent, []

        class Handler(http.server.SimpleHTTPRequestHandler):
            def __init__(self, *arguments):
                super().__init__(*arguments, directory=str(folder))

            def log_message(self, *_):
                asked.append(self.path)

        server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.addCleanup(server.server_close)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        self.addCleanup(server.shutdown)
        dom = self.browse("--dump-dom", f"http://127.0.0.1:{server.server_port}/report.html")
        self.assertIn("Ride 1: <bdi>20/10</bdi>", dom)
        # The sign of a site is asked for by browsers themselves.
        self.assertEqual(set(asked) - {"/favicon.ico"}, {"/report.html"})

    def picture(self, path, *arguments):
        """A screenshot's background: red, green, blue of its first pixel."""
        shot = self.home / "shot.png"
        self.browse("--window-size=360,800", f"--screenshot={shot}", *arguments, f"file://{path}")
        data, at, packed = shot.read_bytes(), 8, b""
        while at < len(data):
            length, kind = struct.unpack(">I4s", data[at:at + 8])
            packed += data[at + 8:at + 8 + length] if kind == b"IDAT" else b""
            at += 12 + length
        return zlib.decompress(packed)[1:4]

    @unittest.skipIf(CHROMIUM is None, "no chromium")
    def test_light_dark_and_paper(self):
        self.ride()
        path = self.report()
        self.assertGreater(min(self.picture(path)), 0xF0)
        self.assertLess(max(self.picture(path, "--blink-settings=preferredColorScheme=0")), 0x30)
        paper = self.home / "paper.pdf"
        self.browse(f"--print-to-pdf={paper}", f"file://{path}")
        self.assertTrue(paper.read_bytes().startswith(b"%PDF-"))
        self.assertLessEqual(len(re.findall(rb"/Type\s*/Page\b", paper.read_bytes())), 4)


if __name__ == "__main__":
    main()
