#!/usr/bin/env python3
"""The log of a rider: two weeks on one screen, the way back through the years, and one block drawn;
with nothing ridden, with ten years, without power or heart, unfinished and damaged."""
import pathlib
import re
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
import past
from journey import ASAN, PROFILES, RELEASE, Journey, main
from pane import Pane

TEN_YEARS_END = past.at(2025, 11, 14)
# What a block looks like in the grid, line by line.
GRID = ("ride", "length", "kJ", "W", "kcal", "result", "legs", "effort")
# Of JSON lines; scripts lean on them.
KEYS = {"ride_id", "started", "started_unix_s", "profile", "bike", "state", "end", "reason",
        "duration_s", "work_j", "average_power_w", "work_power_w", "distance_m", "calories_kcal",
        "calories_low_kcal", "calories_high_kcal", "in_range_pct", "average_heart_bpm",
        "max_heart_bpm", "heart_fall_bpm", "best_5s_w", "best_30s_w", "best_60s_w",
        "best_180s_w", "after", "length_s", "feel", "effort", "note", "verdict", "power_sensor",
        "sensor_pct", "difference_tenths", "difference_error_tenths"}


class Log(Journey):
    def ride(self, *arguments):
        self.assert_ends(self.run_program("ride", *(arguments or (self.short,)), "--rate", 10000),
                         0)

    def remember(self, blocks):
        """The store then holds these alone, from number 2 on."""
        self.ride()
        numbers = past.remember(self.database, blocks)
        past.forget(self.database, 1)
        return numbers

    def log(self, *arguments, program=RELEASE, env=None):
        done = self.run_program("log", *arguments, program=program, env=env)
        self.assert_ends(done, 0)
        for line in done.out.splitlines():
            if "--jsonl" not in arguments:
                self.assertLessEqual(len(line), 80, line)
        return done.out

    def open(self, *arguments, columns=80, rows=24):
        pane = Pane([RELEASE, "log", *arguments], self.env, columns, rows)
        self.addCleanup(pane.close)
        return pane

    # ---- printed ----

    def test_empty_store(self):
        self.assertIn("No rides yet.", self.log())
        self.assertEqual(self.log("--jsonl"), "")
        self.assertEqual(self.log("--last", 3), "No such rides.\n")
        self.assertFalse(self.database.exists())

    def test_one_ride(self):
        self.ride()
        ride = self.show(1)
        out = self.log(program=ASAN)
        rows = {line.split()[0]: line.split()[1:] for line in out.splitlines() if line.split()}
        self.assertEqual(rows["ride"], ["1"])
        self.assertEqual(rows["length"], ["3:00"])
        self.assertEqual(rows["kJ"], [f"{ride['work_j'] / 1000:.1f}"])
        self.assertEqual(rows["kcal"], [str(ride["calories_kcal"])])
        self.assertEqual(rows["result"], ["new"])
        self.assertEqual(rows["effort"], ["-"])
        self.assertRegex(out, r"1 block, \d+\.\d kJ, \d+ kcal\n")
        self.assertIn("Two blocks ridden to the end make a trend", out)
        self.assertRegex(out, rf"best W +5 s {ride['best_5s_w']} {time.gmtime().tm_mday} ")

    def test_days_by_week(self):
        """Monday first, by the rider's own midnight; several blocks of a day side by side."""
        self.remember([{"started_unix_s": past.at(2025, 11, 3, 23), "feel": 3, "effort": 0},
                       {"started_unix_s": past.at(2025, 11, 5, 6), "is_fresh": 1},
                       {"started_unix_s": past.at(2025, 11, 5, 18), "ending": "cut_off"},
                       {"started_unix_s": past.at(2025, 11, 16, 12), "ending": "stopped"}])
        lines = self.log("--before", "2025-11-17").splitlines()
        self.assertTrue(lines[0].startswith(" 3 Nov to 16 Nov 2025   4 blocks, "))
        self.assertEqual(lines[2].split(), "Nov Mon 3 Tue 4 Wed 5 Thu 6 Fri 7 Sat 8 Sun 9".split())
        for name, line in zip(GRID, lines[3:]):
            self.assertEqual(line.split()[0], name)
        self.assertEqual(lines[3].index("2"), lines[2].index("Mon 3"))
        self.assertEqual(lines[3].index("3"), lines[2].index("Wed 5"))
        self.assertEqual(lines[3].split(), ["ride", "2", "3", "4"])
        self.assertEqual(lines[8].split(), ["result", "new", "new", "cut"])
        self.assertEqual(lines[9].split(), ["legs", "3", "-f", "-"])
        self.assertEqual(lines[10].split(), ["effort", "0", "-", "-"])
        self.assertEqual(lines[13].index("5"), lines[12].index("Sun 16"))
        # Two hours further east it is Tuesday already, and that Sunday still.
        east = self.log("--before", "2025-11-17", env=dict(self.env, TZ="<+02>-2")).splitlines()
        self.assertEqual(east[3].index("2"), east[2].index("Tue 4"))

    def test_beaten_or_not(self):
        """The verdict in the grid is the one that show gives in a sentence."""
        work_kj = (40, 40, 40, 40.4, 39.8, 40.1, 44, 36)
        self.remember([{"started_unix_s": past.at(2025, 11, 3 + i), "work_j": round(1000 * kj)}
                       for i, kj in enumerate(work_kj)])
        results = [line.split()[1:] for line in self.log().splitlines() if " result" in line]
        found = [word for week in results for word in week]
        self.assertEqual(found[:2], ["new", "new"])
        self.assertEqual(found[-2:], ["beat", "less"])
        self.assertIn("even", found)
        for number, (word, line) in enumerate(zip(found, reversed(
                self.run_program("log", "--jsonl").json())), 2):
            said = self.run_program("show", number).out
            self.assertEqual("\nBetter than" in said, word == "beat")
            self.assertEqual("\nLower than" in said, word == "less")
            self.assertEqual(line["verdict"], {"beat": "better", "less": "lower", "even": "noise"}
                             .get(word, line["verdict"]))
        self.assertIn("1 beat those before", self.log())

    def test_filters(self):
        self.remember([{"started_unix_s": past.at(2025, 11, 3), "title": "Ä 40/20"},
                       {"started_unix_s": past.at(2025, 11, 4), "is_fresh": 1},
                       {"started_unix_s": past.at(2025, 11, 5), "bike": "unix:/bike"}])
        for options, expected in (("--profile", "Ä 40/20"), [2]), (("--after", "fresh"), [3]), (
                ("--after", "legs"), [4, 2]), (("--bike", "unix:/bike"), [4]), (
                ("--bike", "virtual", "--after", "legs"), [2]):
            lines = self.run_program("log", "--jsonl", *options).json()
            self.assertEqual([line["ride_id"] for line in lines], expected)
            rides = re.findall("(?m)^ ride(.*)$", self.log(*options, "--before", "2025-11-10"))[-1]
            self.assertEqual(rides.split(), [str(number) for number in reversed(expected)])
        self.assertIn("\n only Ä 40/20 on virtual after leg work\n",
                      self.log("--profile", "Ä 40/20", "--bike", "virtual", "--after", "legs"))
        self.assertEqual(self.run_program("log", "--jsonl", "--profile", "no such").out, "")

    def test_what_was_never_ridden_is_told_with_what_was(self):
        self.remember([{"started_unix_s": past.at(2025, 11, 3), "bike": "unix:/bike"},
                       {"started_unix_s": past.at(2025, 11, 4), "title": "Ä 40/20"}])
        for command in (("log", "--plain"), ("log", "--last", 3), ("report",)):
            self.assert_ends(self.run_program(*command, "--bike", "no such"), 1,
                             f"{command[0]}: --bike 'no such': there is no such ride; "
                             "there are 'virtual', 'unix:/bike'")
            self.assert_ends(self.run_program(*command, "--profile", "no such"), 1,
                             "--profile 'no such': there is no such ride; there are 'Ä 40/20', ")

    def test_written_by_hand(self):
        """No journal, no power in the work, perhaps not even a profile."""
        self.remember([{"started_unix_s": past.at(2025, 11, 3), "state": past.BY_HAND, "title": "",
                        "bike": "", "work_power_w": None, "length_ms": None}])
        rows = {line.split()[0]: line.split()[1:]
                for line in self.log("--before", "2025-11-17").splitlines()[3:11]}
        self.assertEqual([rows[name] for name in GRID],
                         [["2"], ["4:05"], ["40.0"], ["-"], ["48"], ["-"], ["-"], ["-"]])
        self.assertIn("There is no journal of it", self.show_words(2))
        self.assertIsNone(self.run_program("log", "--jsonl").json()[0]["verdict"])

    def test_lines_for_scripts(self):
        self.ride()
        self.ride()
        lines = self.run_program("log", "--jsonl").json()
        self.assertEqual([line["ride_id"] for line in lines], [2, 1])
        for line in lines:
            self.assertEqual(set(line), KEYS)
            self.assertEqual(line, self.show(line["ride_id"]))
        self.assertEqual(self.run_program("log", "--jsonl", "--last", 1).json(), lines[:1])
        self.assertEqual(self.run_program("log", "--jsonl", "--before", "2020-01-01").out, "")

    def test_ten_years(self):
        self.remember(past.ten_years(TEN_YEARS_END))
        for program in (RELEASE, ASAN):
            out = self.log("--before", "2025-11-17", program=program)
            self.assertIn("3 Nov to 16 Nov 2025", out)
            self.assertRegex(out, "trend +Jun +Jul +Aug +Sep +Oct +Nov")
            self.assertTrue(re.search("[\u2801-\u28ff]", out))
        begun = time.monotonic()
        self.log()
        print(f"ten years, two weeks of it: {time.monotonic() - begun:.3f} s")
        self.assertEqual(len(self.run_program("log", "--jsonl").json()), 1600)
        self.assertIn("no blocks", self.log("--before", "1999-01-01"))
        self.assertEqual(self.log("--weeks", 8).count(" result"), 8)

    def test_c_locale(self):
        self.remember(past.ten_years(TEN_YEARS_END, 100))
        out = self.log(env=dict(self.env, LC_ALL="C"))
        self.assertTrue(out.isascii())
        self.assertIn("***", out)

    # ---- on a terminal ----

    def test_keys(self):
        self.remember(past.ten_years(TEN_YEARS_END, 200))
        pane = self.open("--before", "2025-11-17")
        pane.wait_for("3 Nov to 16 Nov 2025", "left  earlier   q  leave", "best W")
        pane.press("Left")
        pane.wait_for("20 Oct to 2 Nov 2025", "left, right  earlier, later")
        pane.press("Left")
        pane.wait_for("6 Oct to 19 Oct 2025")
        pane.press("Right")
        pane.wait_for("20 Oct to 2 Nov 2025")
        pane.press("Right")
        seen = pane.wait_for("3 Nov to 16 Nov 2025")
        self.assertEqual(len(seen.splitlines()), 24)
        pane.resize(60, 24)
        seen = pane.wait_for("Sun 16", "q  leave")
        self.assertTrue(all(len(line) <= 60 for line in seen.splitlines()))
        pane.resize(50, 10)
        pane.wait_for("Too small: 60x24. q leaves.")
        pane.resize(80, 24)
        pane.wait_for("Sun 16")
        pane.press("q")
        pane.wait_for("ended 0")
        self.assertTrue(pane.modes_are_back())

    def test_keys_choose_which_blocks(self):
        day = past.at(2025, 11, 12)
        self.remember([{"started_unix_s": day, "title": "Long", "bike": "virtual"},
                       {"started_unix_s": day + 60, "title": "Short", "bike": "unix:/tmp/x",
                        "is_fresh": 1}])
        pane = self.open("--before", "2025-11-17")
        pane.wait_for("q  leave   p b a  which blocks")
        pane.press("p")
        pane.wait_for("q  leave   p b a  only Short")
        pane.press("p")
        pane.wait_for("q  leave   p b a  only Long")
        pane.press("p")
        pane.wait_for("p b a  which blocks")
        pane.press("b")
        pane.wait_for("only on unix:/tmp/x")
        pane.press("b")
        pane.press("a")
        pane.wait_for("only on virtual after leg work")
        pane.press("a")
        pane.wait_for("only on virtual fresh")
        pane.press("q")
        pane.wait_for("ended 0")

    def test_weeks_without_blocks_are_passed(self):
        self.remember([{"started_unix_s": past.at(2024, 3, 6)},
                       {"started_unix_s": past.at(2025, 11, 12)}])
        pane = self.open()
        pane.wait_for("3 Nov to 16 Nov 2025")
        pane.press("Left")
        pane.wait_for("26 Feb to 10 Mar 2024", "right  later")
        pane.press("Right")
        pane.wait_for("10 Nov to 23 Nov 2025", "left  earlier")
        pane.press("Enter")
        pane.wait_for("ended 0")

    def test_plain_on_a_terminal(self):
        self.ride()
        pane = self.open("--plain", columns=60, rows=50)
        seen = pane.wait_for("f ridden fresh", "ended 0")
        self.assertTrue(all(len(line) <= 60 for line in seen.splitlines()))

    # ---- one block ----

    def show_words(self, ride_id, program=RELEASE, env=None):
        done = self.run_program("show", ride_id, program=program, env=env)
        self.assert_ends(done, 0)
        return done.out

    def test_show(self):
        self.ride(PROFILES[0])
        out = self.show_words(1, program=ASAN)
        for words in ("\n power ", "\n heart ", "\n cadence ", "0:00    1:00 ", "\n Step  "):
            self.assertIn(words, out)
        self.assertTrue(re.search("[\u2801-\u28ff]", out))
        ride, steps = self.show(1), re.findall(
            r"(?m)^ (warm-up|(?:work|rest) \d of 8|cool-down) +(\d+):(\d\d)  (\d+)\.\.(\d+) W +"
            r"(\d+) +(\d+) +(\d+)$", out)
        self.assertEqual(len(steps), 18)
        self.assertEqual(sum(60 * int(step[1]) + int(step[2]) for step in steps),
                         ride["duration_s"])
        self.assertEqual(max(int(step[7]) for step in steps), ride["max_heart_bpm"])
        work_w = [int(step[5]) for step in steps if step[0].startswith("work")]
        # Readings of a second against straight lines between them: a few per cent at edges.
        self.assertAlmostEqual(sum(work_w) / len(work_w), ride["work_power_w"],
                               delta=0.08 * ride["work_power_w"])
        ascii_out = self.show_words(1, env=dict(self.env, LC_ALL="C"))
        self.assertTrue(ascii_out.isascii())
        self.assertIn("###", ascii_out)
        for line in (out + ascii_out).splitlines():
            if not line.startswith("Reckoned from") and not line.startswith("Next time"):
                self.assertLessEqual(len(line), 80, line)

    def change_readings(self, without):
        """Without one of the readings: power is bit 0, the heart bit 3."""
        past.change_journal(self.database, 1, lambda text: re.sub(
            rb" has=(\d+)", lambda found: b" has=%d" % (int(found[1]) & ~without), text))

    def test_show_without_power(self):
        """What nobody measured is not drawn."""
        self.ride()
        self.change_readings(without=1)
        out = self.show_words(1)
        self.assertNotIn("\n power ", out)
        self.assertIn("\n cadence ", out)
        self.assertRegex(out, r"(?m)^ work 1 of 4 .* -   \d\d  \d+$")

    def test_show_without_heart(self):
        self.ride()
        self.change_readings(without=8)
        past.change_journal(self.database, 1, lambda text: re.sub(rb"(?m)^> \d+ heart .*\n", b"", text))
        out = self.show_words(1)
        self.assertIn("\n power ", out)
        self.assertNotIn("\n heart ", out)
        self.assertRegex(out, r"(?m)^ work 1 of 4 .* -$")

    def test_show_unfinished(self):
        running = self.start_program("ride", self.short, "--jsonl", "--rate", 200)
        running.wait_for(lambda event: event["event"] == "telemetry" and event["t_ms"] > 60000)
        running.kill()
        out = self.show_words(1)
        self.assertIn("unfinished", out)
        self.assertIn("\n work 1 of 4 ", out)
        self.assertIn("\n power ", out)
        self.assertRegex(self.log(), "(?m)^ result +open$")

    def test_show_damaged(self):
        self.ride()
        whole = self.show_words(1)
        past.change_journal(self.database, 1, lambda text: text[:len(text) // 2] + b"\xff\x00junk\n" +
                            text[len(text) // 2:])
        half = self.show_words(1, program=ASAN)
        self.assertRegex(half, r"\nIts journal is damaged in line \d+; this is what comes before ")
        self.assertIn("\n power ", half)
        self.assertLess(half.count(" of 4 "), whole.count(" of 4 "))
        past.change_journal(self.database, 1, lambda text: b"junk\n")
        self.assertRegex(self.show_words(1), "damaged in line 1, so there is no drawing")
        past.change_journal(self.database, 1, lambda text: b"")
        self.assertIn("There is no journal of it", self.show_words(1))


if __name__ == "__main__":
    main()
