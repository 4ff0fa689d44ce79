#!/usr/bin/env python3
"""The first three blocks of a new rider, on a bike that is not the virtual one."""
import pathlib
import re
import signal
import sqlite3
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import ASAN, PROFILES, RIDERS, Journey, is_kind, main, on_machines, real_time

RATE = 20
LONG = """title     Invented long block
length    6:00..7:00
rounds 12
  work    0:20  power 500..600 W
  rest    0:10  power 80..100 W
end
cool-down 0:05  power 50..60 W
"""
STIFF = """title     Invented stiff block
length    3:00..7:00
work      4:10  power 100..120 W
"""


@real_time
class FirstBlocks(Journey):
    def setUp(self):
        super().setUp()
        self.settings_file.unlink()
        self.long = self.write("long.profile", LONG)
        self.bike = self.home / "bike"

    def ride(self, profile, *arguments, status=0):
        done = self.run_program("ride", profile, "--jsonl", "--cautions-read", *arguments)
        self.assertEqual(done.status, status, done.err)
        return done

    def start_foreign_bike(self):
        """A bike of another program: one of this very program is known to be virtual."""
        self.start_bike(self.bike, "--rate", RATE, program=ASAN)

    def first_lines(self, *arguments):
        """What a ride says of itself, without riding it to its end."""
        self.start_foreign_bike()
        ride = self.start_program("ride", self.long, "--jsonl", "--cautions-read", "--bike",
                                  f"unix:{self.bike}", "--rate", RATE, *arguments)
        hello = ride.event()
        step = ride.wait_for(lambda event: event["event"] == "step" and event["kind"] == "work")
        ride.wait_for(is_kind("telemetry"))
        ride.abandon()
        return hello, step, [line for line in ride.text if '"first_blocks"' in line]

    def test_a_first_block_is_eased_whatever_is_asked(self):
        """The fewest rounds that make a block, 20 % down, and no more than critical power."""
        hello, step, cautions = self.first_lines("--length", "7:00")
        self.assertEqual(hello["planned_s"], 180 + 5)
        self.assertIn("first three blocks", hello["fit"])
        self.assertEqual((step["power_low_w"], step["power_high_w"]), (108, 120))
        self.assertEqual(hello["load_limit_w"], 120)
        self.assertEqual(len(cautions), 1)

    def test_rehearsed_as_it_is_ridden(self):
        """The fewest rounds, 20 % down, no load above critical power: as in the ride above."""
        done = self.run_program("rehearse", self.long, "--jsonl", "--length", "7:00")
        self.assert_ends(done, 0)  # on the virtual bike, as written
        written = done.json()[0]
        self.assertEqual((written["length_s"], written["first_block"]), (420, False))
        done = self.run_program("rehearse", self.long)
        self.assertIn("on one of your own the first three blocks are", " ".join(done.out.split()))
        devices = self.home / "data" / "afterset" / "devices"
        devices.parent.mkdir(parents=True, exist_ok=True)
        devices.write_text("machine F0:AA:1B:01:00:01 random Invented bike\n")
        done = self.run_program("rehearse", self.long, "--jsonl", "--length", "7:00",
                                program=ASAN)
        self.assert_ends(done, 0)
        eased = done.json()[0]
        self.assertEqual((eased["length_s"], eased["planned_s"]), (180, 180 + 5))
        self.assertTrue(eased["first_block"])
        self.assertLessEqual(max(second["power_w"] for second in eased["seconds"]), 120)
        done = self.run_program("rehearse", self.long)
        self.assertIn("first three blocks", " ".join(done.out.split()))
        stiff = self.write("stiff.profile", STIFF)
        self.assert_ends(self.run_program("rehearse", stiff), 1, "it cannot be fitted")
        for line in self.run_program("rehearse", self.long, "--sweep", "target",
                                     "--jsonl").json():
            self.assertLessEqual(line["work_power_w"], 120)
        swept = self.run_program("rehearse", self.long, "--sweep", "length").out
        self.assertEqual(swept.count("   3:00 "), 1, swept)
        self.assertRegex(swept, "one of your first three blocks: as short as it can be")

    def test_an_experienced_rider_says_so_once(self):
        self.assert_ends(self.run_program("rider", "experienced", "yes"), 0)
        hello, step, cautions = self.first_lines()
        self.assertEqual(hello["planned_s"], 360 + 5)
        self.assertEqual((step["power_low_w"], step["power_high_w"]), (500, 600))
        self.assertEqual(cautions, [])

    def test_a_block_that_stays_long_is_refused(self):
        self.start_foreign_bike()
        done = self.ride(self.write("stiff.profile", STIFF), "--bike", f"unix:{self.bike}",
                         status=1)
        self.assert_one_line(done.err)
        self.assertIn("experienced yes", done.err)

    def test_three_blocks_over_the_air_are_enough(self):
        """Rides on a virtual bike are none; those of the store are made into ones here."""
        for _ in range(3):
            self.ride(PROFILES[0], "--virtual-rider", RIDERS / "steady.rider", "--rate", 10000)
        hello, _, cautions = self.first_lines()
        self.assertEqual((hello["planned_s"], len(cautions)), (185, 1))
        with sqlite3.connect(self.database) as database:
            database.execute("UPDATE ride SET bike = 'C0:12:34:56:78:9A' WHERE id < 3")
        self.bike = self.home / "second"
        self.assertEqual(self.first_lines()[0]["planned_s"], 185)
        with sqlite3.connect(self.database) as database:
            database.execute("UPDATE ride SET bike = 'C0:12:34:56:78:9A' WHERE id = 3")
        self.bike = self.home / "third"
        hello, _, cautions = self.first_lines()
        self.assertEqual((hello["planned_s"], cautions), (365, []))

    def test_blocks_written_by_hand_are_none(self):
        for day in range(1, 5):
            self.assert_ends(self.run_program(
                "add", "--date", f"2026-01-0{day}", "--length", "5:00", "--power", 200,
                "--bike", "C0:12:34:56:78:9A", "--profile", "Invented"), 0)
        self.assertEqual(self.first_lines()[0]["planned_s"], 185)

    def test_what_to_mind_afterwards_is_said(self):
        """In lines: how long to ride out, and after it the days that follow; so does the help."""
        self.start_foreign_bike()
        ride = self.start_program("ride", self.long, "--plain", "--cautions-read", "--bike",
                                  f"unix:{self.bike}", "--rate", RATE)
        while "s left of work" not in ride.line():
            pass
        ride.signal(signal.SIGINT)
        while not re.search("[0-2]:[0-9][0-9] left of riding out", ride.line()):
            pass
        ride.signal(signal.SIGINT)
        done = ride.finish()
        self.assertEqual(done.status, 0, done.err)
        self.assertIn("Pedal easily for 3 minutes", done.out)
        self.assertIn("dark as tea or cola", done.out)
        self.assertIn("One of your first three blocks", done.out)
        help_text = self.run_program("help", "safety")
        self.assert_ends(help_text, 0)
        self.assertIn("dark as tea or cola", help_text.out)
        self.assertIn("You may stop for any reason", help_text.out)

    def test_the_rider_is_told_where_the_heart_limit_comes_from(self):
        """Tanaka 2001: 208 - 0.7 x 30 = 187; Brawner 2004: 164 - 0.7 x 30 = 143."""
        done = self.run_program("rider")
        self.assertIn("Heart rate limit 180 bpm", done.out)
        self.assertIn("\nOn the virtual bike, where an age of 30 is assumed, it is 187 bpm.\n",
                      done.out)
        for words, limit, basis in (("age 30", 187, "standard error is 11 beats"),
                                    ("heart-max 190", 190, "your measured maximum"),
                                    ("heart-limit 150", 150, "your own limit; without it 190"),
                                    ("heart-limit none heart-max none heart-slowed yes", 143,
                                     "how hard it feels")):
            with self.subTest(words):
                done = self.run_program("rider", *words.split())
                self.assert_ends(done, 0)
                self.assertIn(f"Heart rate limit {limit} bpm, a caution from {limit - 5} bpm",
                              done.out)
                self.assertIn(basis, " ".join(done.lines))
                self.assertNotIn("is assumed, it is", done.out)

    def test_the_virtual_bike_inside_is_ridden_as_written(self):
        lines = self.ride(PROFILES[0], "--rate", 10000).json()
        self.assertNotIn("first_blocks", {line.get("caution") for line in lines})
        self.assertIsNone(lines[0].get("fit"))

globals().update(on_machines(FirstBlocks, "test_a_first_block_is_eased_whatever_is_asked",
                             "test_three_blocks_over_the_air_are_enough"))


if __name__ == "__main__":
    main()
