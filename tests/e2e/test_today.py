#!/usr/bin/env python3
"""From a cold terminal to the pedals in two keys, what can be chosen on the way, and what comes
after the ride."""
import os
import pathlib
import shutil
import sqlite3
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import PROFILES, RELEASE, SHIPPED, Journey, main, on_machines, unwrapped
from pane import Pane


class Today(Journey):
    def open(self, *arguments, columns=80, rows=24):
        pane = Pane([RELEASE, *arguments], self.env, columns, rows)
        self.addCleanup(pane.close)
        return pane

    def ride(self, *arguments):
        self.assert_ends(self.run_program("ride", *arguments, "--rate", 10000), 0)

    def stop(self, pane):
        """Stops the ride and leaves it; what comes after is on the screen."""
        pane.press("s")
        pane.wait_for("RIDING OUT")
        pane.press("s")
        return pane.wait_for("Stopped: by your key.", "How hard?", "Saved as ride")

    # ---- today ----

    def test_two_keys_to_the_pedals(self):
        pane = self.open()
        pane.wait_for("20/10", "Enter  ride", "virtual, inside the program")
        pane.press("Enter")
        pane.wait_for("WARM-UP", "0:02 of")
        seen = self.stop(pane)
        self.assertIn("kJ in 0:", seen)
        pane.press("q")
        pane.wait_for("ended 0")
        self.assertTrue(pane.modes_are_back())
        self.assertEqual(self.show(1)["profile"], "20/10")

    def test_what_is_chosen_is_ridden(self):
        pane = self.open()
        pane.wait_for("8 rounds", f"1 of {len(SHIPPED)}")
        pane.press("Up")
        pane.wait_for("9 rounds")
        pane.press("Down")
        pane.press("Down")
        pane.wait_for("7 rounds")
        pane.press("2")
        pane.wait_for("[2 poor]", "as written, legs -3 %")
        pane.press("a")
        pane.wait_for("[nothing, fresh]")
        pane.press("Right")
        pane.wait_for("20/120", f"2 of {len(SHIPPED)}", "2 rounds")
        pane.press("Left")
        pane.press("Left")
        pane.wait_for("Squats, 40/20", f"{len(SHIPPED)} of {len(SHIPPED)}")
        pane.press("p")
        pane.wait_for("20/10", "7 rounds")
        pane.press("Enter")
        pane.wait_for("WARM-UP", "0:02 of")
        self.stop(pane)
        pane.press("x")
        pane.wait_for("[10]")
        pane.press("7")
        pane.wait_for("[7]")
        pane.press("n")
        pane.wait_for("Enter  keep the note")
        pane.press("-l", "legs like woood")
        pane.press("BSpace")
        pane.press("BSpace")
        pane.press("d")
        pane.wait_for("legs like wood_")
        pane.press("Enter")
        pane.wait_for("0-9, x  how hard", without=("wood_",))
        pane.press("Enter")
        pane.wait_for("ended 0")
        ride = self.show(1)
        self.assertEqual((ride["length_s"], ride["feel"], ride["after"], ride["effort"],
                          ride["note"]), (210, 2, "fresh", 7, "legs like wood"))
        shown = self.run_program("show", 1).out
        self.assertRegex(shown, "(?m)^  Effort +7 of 10$")
        self.assertRegex(shown, "(?m)^  Note +legs like wood$")
        self.assertIn(", 7/10", self.run_program("log", "--last", 1).out)
        # and is what is offered next time
        pane = self.open()
        pane.wait_for("7 rounds", "[nothing, fresh]", "none like it yet")
        pane.press("q")
        pane.wait_for("ended 0")

    def test_the_last_one_is_shown(self):
        self.ride(PROFILES[0], "--length", "5:00")
        done = self.run_program()
        self.assert_ends(done, 0)
        self.assertRegex(done.out, r"(?m)^Last    \w{3} [ \d]\d \w{3}: 5:00, \d+\.\d kJ, \d+ W in ")
        self.assertRegex(done.out, r"(?m)^Length  5:00: 10 rounds, from 3:00 to 7:00$")

    def test_too_small(self):
        pane = self.open(columns=50, rows=10)
        pane.wait_for("Enter ride  q leave  Too small: 64x20")
        pane.resize(80, 24)
        pane.wait_for("Enter  ride", without=("Too small",))
        pane.press("C-c")
        pane.wait_for("ended 0")
        self.assertFalse(self.database.exists())

    def test_cautions_before_the_first_ride(self):
        """A bike that is remembered and not ours: read and accepted first, here too."""
        devices = self.home / "data" / "afterset" / "devices"
        devices.parent.mkdir(mode=0o700, exist_ok=True)
        devices.write_text("machine  C0:AA:1B:01:00:02  random  Invented\n")
        pane = self.open()
        pane.wait_for("Invented, C0:AA:1B:01:00:02, ")
        pane.press("Enter")
        pane.wait_for("Type 'yes' and Enter")
        pane.press("n", "o", "Enter")
        pane.wait_for("not accepted, so there is no ride", "ended 1")

    @unittest.skipIf(os.geteuid() == 0 and not shutil.which("setpriv"), "root, and no setpriv")
    def test_store_read_only(self):
        self.ride(self.short)
        for path in self.database.parent.iterdir():
            path.chmod(0o400)
        bound = ["setpriv", "--inh-caps=-all", "--bounding-set=-all"] if os.geteuid() == 0 else []
        for words in ([RELEASE], [RELEASE, "rate", "1", "--effort", "3"]):
            done = self.run_program(*map(str, [*bound, *words][1:]),
                                    program=[*bound, *words][0])
            self.assert_ends(done, 1, "cannot be read and written; look at the rights")

    # ---- after ----

    def test_leaves_at_any_time(self):
        """Everything is saved before anything is asked."""
        pane = self.open("ride", PROFILES[0])
        pane.wait_for("WARM-UP", "0:02 of")
        self.stop(pane)
        self.assertEqual(self.show(1)["state"], "finished")
        os.kill(pane.pid, 15)
        pane.wait_for("ended 0")
        self.assertTrue(pane.modes_are_back())
        self.assertEqual((self.show(1)["effort"], self.show(1)["note"]), (None, None))

    def test_rate(self):
        self.ride(self.short)
        self.assert_ends(self.run_program("rate", 1, "--effort", 0, "--note", "Übung"), 0)
        self.assertEqual((self.show(1)["effort"], self.show(1)["note"]), (0, "Übung"))
        self.assert_ends(self.run_program("rate", 1, "--note", ""), 0)
        self.assertEqual((self.show(1)["effort"], self.show(1)["note"]), (0, None))
        self.assert_ends(self.run_program("rate", 9, "--effort", 3), 1, "there is no ride 9 that")

    # ---- length and feel ----

    def test_length_and_feel(self):
        done = self.run_program("ride", PROFILES[0], "--plain", "--rate", 10000, "--length", "4:40",
                                "--feel", 1)
        self.assert_ends(done, 0)
        self.assertIn("Today: 4:30 of 3:00..7:00, 9 rounds, targets 6 % down.\n", done.out)
        self.assertRegex(unwrapped(done.out), r"heart \d+ bpm \(down -?\d+, \d+ s to count\)")
        self.assertRegex(done.out, r"Heart: \d+ bpm down a minute after the work: ")
        self.assertEqual(self.show(1)["length_s"], 270)
        twice = self.write("twice.profile", self.short.read_text() + "")
        text = self.short.read_text().replace("rounds 4", "rounds 2")
        head, rest = text.split("rounds 2", 1)
        body, tail = rest.split("end\n", 1)
        twice.write_text(head + 2 * ("rounds 2" + body + "end\n") + tail)
        self.assert_ends(self.run_program("ride", twice, "--length", "4:00"), 1,
                         "it cannot be fitted: it has no outermost rounds, or several")
        self.assert_ends(self.run_program("ride", twice, "--rate", 10000), 0)

    def test_store_of_old(self):
        """A store of the first version is brought up to date with everything in it."""
        self.ride(self.short)
        with sqlite3.connect(self.database) as store:
            store.executescript("""
                CREATE TABLE first AS SELECT id, started_unix_s, title, bike, state, ending, reason,
                    duration_s, work_j, average_power_w, distance_m, calories_kcal,
                    calories_low_kcal, calories_high_kcal, in_range_pct, average_heart_bpm,
                    max_heart_bpm, best_5s_w, best_30s_w, best_60s_w, best_180s_w,
                    length AS journal_length, packed AS journal
                    FROM ride JOIN journal ON ride_id = id;
                DROP TABLE journal;
                DROP TABLE brake;
                DROP TABLE knob;
                DROP TABLE device;
                DROP TABLE ride;
                ALTER TABLE first RENAME TO ride;
                PRAGMA user_version = 1;""")
        store.close()
        self.assertIsNone(self.show(1)["effort"])
        self.assertEqual(self.show(1)["after"], "legs")
        self.assert_ends(self.run_program("rate", 1, "--effort", 10), 0)
        self.ride(self.short)
        self.assertEqual([ride["ride_id"] for ride in self.run_program("log", "--jsonl").json()],
                         [2, 1])

globals().update(on_machines(Today, "test_two_keys_to_the_pedals",
                             "test_what_is_chosen_is_ridden"))


if __name__ == "__main__":
    main()
