#!/usr/bin/env python3
"""Blocks ridden beforehand: what is printed, and that it is what a ride comes to."""
import contextlib
import json
import pathlib
import re
import sqlite3
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import ASAN, MACHINES, PROFILES, ROOT, Journey, main, unwrapped

TOO_HARD = """title     Invented and too hard
length    3:00..7:00
warm-up   1:00  power 40..55 %cp
rounds 5
  work    0:40  power 150..160 %cp
  rest    0:10  power 80..90 %cp
end
cool-down 1:00  power 30..40 %cp
"""


class Rehearse(Journey):
    def rehearse(self, *arguments, **how):
        done = self.run_program("rehearse", *arguments, **how)
        self.assert_ends(done, 0)
        for line in done.out.splitlines():
            if not line.startswith("{"):
                self.assertLessEqual(len(line), 80, line)
        return done

    def set_rider(self, *pairs):
        self.assert_ends(self.run_program("rider", *pairs), 0)

    def test_every_shipped_profile(self):
        self.set_rider("critical-power", 210, "w-prime", 16, "age", 40)
        for profile in PROFILES:
            with self.subTest(profile=profile.name):
                out = self.rehearse(profile, program=ASAN).out
                self.assertIn("for a critical power of 210 W and a W' of 16.0 kJ\n", out)
                self.assertRegex(out, r"(?m)^Work +\d+\.\d kJ in \d+:\d\d, \d+ W on average, ")
                self.assertRegex(out, r"(?m)^Burnt +about \d+ kcal \(between \d+ and \d+\)$")
                self.assertRegex(out, r"(?m)^Heart +up to 1\d\d bpm, limit 180 bpm$")
                self.assertRegex(out, r"(?m)^Can be ridden")
                self.assertIn("reserve ██", out)
                self.assertRegex(out, r"(?m)^ +0:00 +\d+:\d\d$")

    def test_nothing_is_kept(self):
        self.rehearse(PROFILES[0])
        self.assertFalse(self.database.exists())

    def test_plain_locale(self):
        out = self.rehearse(PROFILES[0], env=dict(self.env, LC_ALL="C")).out
        self.assertTrue(out.isascii())
        self.assertIn("reserve ##", out)

    def test_is_what_a_ride_comes_to(self):
        """The same model rider without noise: within 3 % of a ride on the virtual bike."""
        self.set_rider("critical-power", 200, "w-prime", 15, "age", 31)
        foretold = json.loads(self.rehearse(PROFILES[0], "--jsonl").out)
        done = self.run_program("ride", PROFILES[0], "--jsonl", "--rate", 10000)
        self.assert_ends(done, 0)
        ridden = done.json()[-1]
        self.assertAlmostEqual(foretold["work_j"] / ridden["work_j"], 1, delta=0.03)
        self.assertAlmostEqual(foretold["max_heart_bpm"], ridden["max_heart_bpm"], delta=4)
        self.assertEqual(len(foretold["seconds"]), foretold["planned_s"])
        self.assertAlmostEqual(sum(second["power_w"] for second in foretold["seconds"]) /
                               foretold["work_j"], 1, delta=0.01)

    def test_who_has_said_nothing_rehearses_what_will_be_ridden(self):
        """On the virtual bike another rider is assumed than on one that is remembered."""
        foretold = json.loads(self.rehearse(PROFILES[0], "--jsonl").out)
        out = self.rehearse(PROFILES[0]).out
        self.assertIn("for a critical power of 200 W (assumed) and a W' of 15.0 kJ (assumed)", out)
        done = self.run_program("ride", PROFILES[0], "--jsonl", "--rate", 10000)
        self.assert_ends(done, 0)
        lines = done.json()
        self.assertEqual(foretold["heart_limit_bpm"], lines[0]["heart_limit_bpm"])
        self.assertAlmostEqual(foretold["work_j"] / lines[-1]["work_j"], 1, delta=0.03)
        devices = self.home / "data" / "afterset" / "devices"
        devices.write_text("machine F0:AA:1B:01:00:01 random Invented bike\n")
        devices.chmod(0o600)
        self.assertIn("for a critical power of 120 W (assumed) and a W' of 9.0 kJ (assumed)",
                      self.rehearse(PROFILES[0]).out)

    def test_says_where_it_is_too_hard(self):
        profile = self.write("hard.profile", TOO_HARD)
        out = self.rehearse(profile).out
        self.assertRegex(out, r"(?m)^Too hard: work [1-5] of 5, \d:\d\d: ")
        self.assertIn("for a critical power of 200 W (assumed) and a W' of 15.0 kJ (assumed)", out)
        found = json.loads(self.rehearse(profile, "--jsonl").out)
        self.assertLess(found["reserve_asked_pct"], 0)
        self.assertNotEqual(found["trouble"], "none")
        self.assertRegex(out, rf"(?m)^ +(▲ {found['trouble_s'] // 60}:"
                              rf"{found['trouble_s'] % 60:02}|\d:\d\d ▲)$")

    def test_check_warns(self):
        """The file is right, so the status stays; it is the rider that it is too hard for."""
        profile = self.write("hard.profile", TOO_HARD)
        done = self.run_program("check", profile, PROFILES[0])
        self.assert_ends(done, 0)
        lines = unwrapped(done.out).splitlines()
        self.assertEqual(len(lines), 3)
        self.assertRegex(lines[1], r"hard\.profile: rehearsed for you: Too hard: work \d of 5, \d:\d\d: ")
        self.set_rider("critical-power", 400, "w-prime", 40)
        self.assertEqual(len(unwrapped(self.run_program("check", profile).out).splitlines()), 2)

    def test_own_limits(self):
        """What the ride would be cut off for."""
        self.set_rider("critical-power", 200, "w-prime", 15, "age", 40, "heart-limit", 140)
        self.assertRegex(self.rehearse(PROFILES[0]).out,
                         r"(?m)^Too hard: work \d of 8, \d:\d\d: heart rate over your limit\.$")

    def test_shares_of_the_mark(self):
        """Of the last block like it, which a ride would take too."""
        profile = self.write("more.profile", "title More\nlength 3:00..7:00\nrounds 4\n"
                             "  work 0:30 power 100..105 %mark\n  rest 0:20 power 60..80 W\nend\n"
                             "cool-down 0:10 power 50..60 W\n")
        self.set_rider("critical-power", 200, "w-prime", 15)
        out = self.rehearse(profile).out
        self.assertIn("and no mark yet: its shares are of critical power\n", out)
        self.assert_ends(self.run_program("ride", profile, "--rate", 10000), 0)
        mark_w = self.show(1)["work_power_w"]
        self.assertIn(f"and a mark of {mark_w} W in the work of the last block like it\n",
                      self.rehearse(profile).out)

    def test_own_efforts(self):
        """A ride as hard as it can be over 2 to 5 min: 300 W for two, then 210 W, which is what
        critical power and W' come to, (300 - 210) x 120 J; near that, as it is ridden."""
        profile = self.write("hard.profile", "title Hard\nlength 3:00..7:00\n"
                             "work 2:00 power 295..305 W\nwork 3:00 power 205..215 W\n"
                             "cool-down 0:10 power 50..60 W\n")
        self.assert_ends(self.run_program("ride", profile, "--rate", 10000), 0)
        out = self.rehearse(PROFILES[0]).out
        told = re.search(r"^for a critical power of (\d+) W and a W' of (\d+\.\d) kJ\n"
                         r"from your own best efforts after leg work\n", out, re.MULTILINE)
        self.assertIsNotNone(told, out)
        self.assertAlmostEqual(int(told[1]), 210, delta=10)
        self.assertAlmostEqual(float(told[2]), 10.8, delta=2)
        # what was said goes before what was reckoned
        self.set_rider("critical-power", 200, "w-prime", 15)
        self.assertIn("for a critical power of 200 W and a W' of 15.0 kJ\n\n",
                      self.rehearse(PROFILES[0]).out)

    def test_length_and_feel(self):
        out = self.rehearse(PROFILES[0], "--length", "5:00", "--feel", 1).out
        self.assertRegex(out, r"^20/10: 5:00 of 3:00\.\.7:00, 10 rounds, targets 6 % down\n")

    def test_sweeps(self):
        self.set_rider("critical-power", 200, "w-prime", 15)
        lines = self.rehearse(PROFILES[0], "--sweep", "length").out.splitlines()
        self.assertEqual([line.split()[0] for line in lines[2:]],
                         ["3:00", "3:30", "4:00", "4:30", "5:00", "5:30", "6:00", "6:30", "7:00"])
        work_kj = [float(line.split()[1]) for line in lines[2:]]
        self.assertEqual(work_kj, sorted(work_kj))
        done = self.rehearse(PROFILES[0], "--sweep", "target", "--jsonl")
        rows = done.json()
        self.assertEqual([row["target_pct"] for row in rows], list(range(80, 121, 5)))
        left = [row["reserve_asked_pct"] for row in rows]
        self.assertEqual(left, sorted(left, reverse=True))
        stiff = self.write("stiff.profile", "title Stiff\nlength 3:00..7:00\n"
                                            "work 3:00 power 100..110 W\n")
        self.assert_ends(self.run_program("rehearse", stiff, "--sweep", "length"), 1,
                         "its length cannot be swept: it has no outermost rounds")
        self.assertEqual(len(self.rehearse(stiff, "--sweep", "target").out.splitlines()), 11)

    # ---- brakes that are not told watts ----

    def test_on_a_knob_and_on_levels(self):
        self.set_rider("critical-power", 210, "w-prime", 16)
        profile = ROOT / "profiles" / "5-10x20.profile"
        out = self.rehearse(profile, "--machine", MACHINES / "no-control.machine").out
        self.assertIn("\non a brake that is turned by hand\n", out)
        self.assertRegex(out, r"(?m)^In range  \d+ % of the work$")
        self.assertRegex(out, r"(?m)^Knob      to be turned \d+ times, down to \d s apart; a number "
                              r"is some [56]\d W$")
        self.assertRegex(out, r"(?m)^Too short \d+ of 41 steps to get there, the first work 1 of 20, ")
        found, = self.rehearse(profile, "--machine", MACHINES / "no-control.machine",
                               "--jsonl", program=ASAN).json()
        self.assertEqual((found["brake"], found["changes"]), ("by_hand", 41))
        self.assertGreaterEqual(found["turns"], 40)
        out = self.rehearse(profile, "--machine", MACHINES / "level.machine", program=ASAN).out
        self.assertIn("\non a brake that takes levels\n", out)
        self.assertNotIn("Knob", out)
        for words in ("In range", "on a brake"):
            self.assertNotIn(words, self.rehearse(profile).out)

    def test_on_the_bike_that_is_remembered(self):
        """Whose knob has 25 numbers and makes 20 W of friction and 500 W more of them at 80 rpm: at
        85 rpm one is 500 / 25 x 85 / 80 = 21 W."""
        address = "C0:12:34:56:78:9A"
        self.assert_ends(self.run_program("ride", self.short, "--rate", 10000), 0)
        devices = self.home / "data" / "afterset" / "devices"
        devices.write_text(f"machine  {address}  public\n")
        devices.chmod(0o600)
        self.assertNotIn("on a brake", self.rehearse(self.short).out)
        with contextlib.closing(sqlite3.connect(self.database)) as store, store:
            store.execute("INSERT INTO brake VALUES (?, 20000, 250000, 250000, 0, 1000)", (address,))
        out = self.rehearse(self.short).out
        self.assertIn("\non a brake that takes levels\n", out)
        with contextlib.closing(sqlite3.connect(self.database)) as store, store:
            store.execute("DELETE FROM brake")
            store.execute("INSERT INTO brake VALUES (?, 20000, 500000, 0, 0, 1000)", (address,))
            store.execute("INSERT INTO knob VALUES (?, 7, 25)", (address,))
        out = self.rehearse(self.short).out
        self.assertIn("\non a brake that is turned by hand\n", out)
        number_w = int(re.search(r"a number is some (\d+) W", out)[1])
        self.assertAlmostEqual(number_w, 21, delta=3)

    def test_wrong_use(self):
        for arguments, words in (([], "rehearse takes one profile"),
                                 ([PROFILES[0], PROFILES[1]], "rehearse takes one profile"),
                                 ([PROFILES[0], "--sweep", "up"], "--sweep wants length or target"),
                                 ([PROFILES[0], "--sweep"], "'--sweep' needs a value"),
                                 ([PROFILES[0], "--feel", "6"], "--feel"),
                                 ([PROFILES[0], "--nope"], "'--nope' is no option of it")):
            with self.subTest(arguments=arguments):
                self.assert_ends(self.run_program("rehearse", *arguments), 2, words)
        self.assert_ends(self.run_program("rehearse", PROFILES[0], "--machine", "none"), 1,
                         "^afterset: none: ")
        self.assert_ends(self.run_program("rehearse", PROFILES[0], "--machine",
                                          self.write("odd.machine", "control perhaps\n")), 1,
                         r"odd\.machine:1:9: ")
        self.assert_ends(self.run_program("rehearse", self.home / "none.profile"), 1,
                         "cannot be opened")
        broken = self.write("broken.profile", "title A\nlength 3:00..7:00\nwork 3:00 power up\n")
        self.assert_ends(self.run_program("rehearse", broken), 1, ":3:17: expected a range")
        narrow = self.write("narrow.profile", TOO_HARD.replace("7:00", "5:00"))
        self.assert_ends(self.run_program("rehearse", narrow, "--length", "6:00"), 1,
                         "it cannot be fitted: that is not within the length")


if __name__ == "__main__":
    main()
