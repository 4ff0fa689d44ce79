#!/usr/bin/env python3
"""What commands print fits a terminal of 80 columns, and one that is narrower; what went wrong is one
line of any width."""
import pathlib
import re
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import MACHINES, RELEASE, RIDERS, SHIPPED, Journey, main
from pane import Pane

COLUMNS = 80


class Widths(Journey):
    def assert_narrow(self, lines, what):
        """A path is as long as it is."""
        for line in lines:
            self.assertLessEqual(len(re.sub(r"/\S{20,}", "/", line)), COLUMNS, f"{what}: {line}")

    def assert_fits(self, *arguments, status=0):
        done = self.run_program(*arguments)
        self.assertEqual(done.status, status, f"{arguments}: {done.err}")
        self.assertNotEqual(done.lines, [], arguments)
        self.assert_narrow(done.lines, arguments)
        return done

    def commands(self):
        lines = self.run_program("--help").out.splitlines()
        return [line.split()[0] for line in lines
                if re.match(r"  \S", line) and "afterset" not in line]

    def test_help(self):
        self.assertGreater(len(self.commands()), 10)
        for command in self.commands():
            done = self.assert_fits(command, "--help")
            self.assertEqual(done.out, self.assert_fits("help", command).out)
        self.assert_fits("--help")
        for command in self.commands():  # also in a plain C locale
            self.assertTrue(self.run_program(command, "--help").out.isascii(), command)
        self.assertNotIn("[--through\n", self.run_program("scan", "--help").out)
        self.assert_fits("help", "safety")

    def test_a_ride_and_what_is_kept_of_it(self):
        for number, (machine, rider) in enumerate((("power", "steady"), ("no-control", "fading"),
                                                   ("safety-key", "racing-heart"),
                                                   ("refusing", "weak")), 1):
            done = self.run_program("ride", self.short, "--plain", "--rate", 10000, "--feel", 2,
                                    "--machine", MACHINES / f"{machine}.machine",
                                    "--virtual-rider", RIDERS / f"{rider}.rider",
                                    *(["--beat", "work"] if number == 2 else []))
            self.assertIn(done.status, (0, 1, 3), done.err)
            self.assert_narrow(done.lines, machine)
            self.assertIn(f"ride {number}", self.assert_fits("rate", number, "--effort", 10,
                                                             "--note", "long " * 40).out)
            self.assert_fits("show", number)
        self.assert_fits("log")
        self.assert_fits()
        journal = self.run_program("show", 1, "--journal").out
        self.assert_fits("replay", self.write("a.journal", journal))
        broken = self.run_program("replay", self.write("b.journal", journal.replace("work", "dance")))
        self.assertEqual(broken.status, 1)
        self.assert_one_line(broken.err)

    def test_narrower_terminals(self):
        """No line is broken by the terminal, in mid-word, for tmux would join it again; of words that
        are shorter than a line."""
        for columns in (50, 30):
            for arguments in (["rate", "--help"], ["help", "safety"], ["rider"],
                              ["ride", self.short, "--plain", "--rate", 10000, "--unrecorded"]):
                pane = Pane([RELEASE, *arguments], self.env, columns=columns)
                pane.wait_for("ended 0")
                seen, joined = pane.text("-S", "-"), pane.text("-J", "-S", "-")
                pane.close()
                self.assertGreater(len(seen.splitlines()), 10, arguments)
                self.assertEqual(seen.splitlines(), [line.rstrip() for line in joined.splitlines()])

    def test_what_is_known(self):
        self.assert_fits("rider")
        self.assert_fits("rider", "mass", "75", "age", 40, "heart-limit", 150, "critical-power",
                         "210", "volume", 0)
        for profile in SHIPPED:
            self.assert_fits("check", profile)
        self.assert_fits("ready", status=self.run_program("ready").status)

    def test_what_is_wrong(self):
        broken = self.write("broken.profile", "title  A\nlength 3:00..7:00\nwork 0:20 power 20..W\n")
        for arguments in (("dance",), ("ride",), ("ride", "none.profile"), ("check", broken),
                          ("ride", self.short, "--bike", "nowhere"), ("show", 99), ("show",),
                          ("rate", 1), ("rate", "x", "--effort", 3), ("rider", "mass"),
                          ("rider", "heart-limit", "3000"), ("scan", "--for", "never"),
                          ("replay", self.short), ("virtual-bike",), ("cues", "--volume", "loud"),
                          ("ride", self.short, "--length", "17:00", "--bike", "virtual")):
            done = self.run_program(*arguments)
            self.assertNotEqual(done.status, 0, arguments)
            self.assertEqual(done.out, "", arguments)
            self.assert_one_line(done.err)


if __name__ == "__main__":
    main()
