#!/usr/bin/env python3
"""Profiles made on the screen: from nothing to a file that can be ridden, and nothing lost."""
import os
import pathlib
import random
import signal
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import PROFILES, RELEASE, ROOT, Journey, main, unwrapped
from pane import Pane


def example():
    """The profile that README.md shows."""
    lines = (ROOT / "README.md").read_text().split("\n## Profiles\n", 1)[1].split("\n")
    first = next(i for i, line in enumerate(lines) if line.startswith("    title "))
    last = next(i for i in range(first, len(lines)) if lines[i].startswith("    cool-down "))
    return "\n".join(line[4:] for line in lines[first:last + 1]) + "\n"


def meaning(text):
    """Lines without comments and columns."""
    return [line.split("#")[0].split() for line in text.splitlines() if line.split("#")[0].strip()]


FIELDS = ["time", "power", "cadence", "heart", "level", "effort", "until", "cue"]


def fields_of(words):
    """[kind, time..., field, value...] as pairs in the order of the screen."""
    starts = [1] + [i for i in range(2, len(words)) if words[i] in FIELDS and
                    "cue" not in words[:i]] + [len(words)]
    found = {"time": " ".join(words[1:starts[1]])}
    for first, end in zip(starts[1:], starts[2:]):
        found[words[first]] = " ".join(words[first + 1:end])
    return sorted(found.items(), key=lambda pair: FIELDS.index(pair[0]))


class Draft(Journey):
    def open(self, *arguments, columns=80, rows=24, env=None):
        pane = Pane([RELEASE, "draft", *arguments], env or self.env, columns, rows)
        self.addCleanup(pane.close)
        return pane

    def say(self, pane, text):
        """Types into a field that is open."""
        pane.press("-l", text)

    def fill(self, pane, value, opened=False):
        """A value for the field under the hand; what stood there goes."""
        if not opened:
            pane.press("Enter")
        pane.wait_for("Enter  keep it")
        for _ in range(24):
            pane.press("BSpace")
        self.say(pane, value)
        pane.press("Enter")
        pane.wait_for(f"[{value}]", without=("Enter  keep it",))

    def add(self, pane, key, fields):
        """A step by its key, and what differs in it; fields as they follow one another."""
        pane.press("a")
        pane.wait_for("w  work")
        pane.press(key)
        pane.wait_for("Enter  type", "  time    [")
        names = ["time", "cue"] if key == "f" else FIELDS
        at = 0
        for field, value in fields:
            for _ in range(names.index(field) - at):
                pane.press("Right")
            at = names.index(field)
            self.fill(pane, value)

    def build(self, pane, text):
        """Types a profile in, by the names on the screen, as somebody would who reads it."""
        keys = {"floor": "f", "warm-up": "u", "work": "w", "rest": "r", "cool-down": "c"}
        rounds = None
        for words in meaning(text):
            if words[0] == "title":
                self.fill(pane, " ".join(words[1:]))
            elif words[0] in keys:
                self.add(pane, keys[words[0]], fields_of(words))
            elif words[0] == "rounds":
                rounds = words[1]
            elif words[0] == "end":
                pane.press("o")
                pane.wait_for("> rounds", "  rounds  [")
                self.fill(pane, rounds)

    # ---- from nothing ----

    def test_readme_example_from_nothing(self):
        text = example()
        path = self.home / "made.profile"
        began = time.monotonic()
        pane = self.open()
        pane.wait_for("New block", "Press a to add the first step.", "Not a block yet")
        self.build(pane, text)
        pane.wait_for("Can be ridden", "kJ, about")
        pane.press("s")
        pane.wait_for("Save as 20-10.profile_")
        for _ in range(20):
            pane.press("BSpace")
        self.say(pane, str(path))
        pane.press("Enter")
        pane.wait_for("Saved.")
        self.assertLess(time.monotonic() - began, 120)
        self.assertEqual(path.stat().st_mode & 0o777, 0o600)
        made = path.read_text()
        self.assertEqual(meaning(made), meaning(text))
        self.assert_ends(self.run_program("check", path), 0)
        # undone to nothing, which is not what is on disk
        for _ in range(30):
            pane.press("u")
        pane.wait_for("New block", "Press a to add the first step.",
                      "There is nothing before this.", "not saved")
        pane.press("q")
        pane.wait_for("It is not saved.", "q  leave without")
        pane.press("q")
        pane.wait_for("ended 0")
        self.assertTrue(pane.modes_are_back())
        self.assertEqual(path.read_text(), made)
        self.assertFalse(self.database.exists())

    def test_as_few_keys_as_that(self):
        """Warm-up, work, rest, rounds around both, cool-down: what is offered can be ridden."""
        path = self.home / "few.profile"
        pane = self.open(path)
        pane.wait_for("Press a to add the first step.", "few.profile")
        for key in "auawaroac":
            pane.press(key)
        pane.wait_for("cool-down 3:00", "Can be ridden")
        pane.press("s")
        pane.wait_for("Saved.")
        pane.press("q")
        pane.wait_for("ended 0")
        done = self.run_program("check", path)
        self.assert_ends(done, 0)
        self.assertIn("New block, 4:00 of intervals with 2:40 of work, 18 steps", unwrapped(done.out))

    # ---- one that is there ----

    def test_comments_and_rights_stay(self):
        path = self.write("own.profile", PROFILES[0].read_text())
        path.chmod(0o640)
        pane = self.open(path)
        pane.wait_for("> warm-up", "saved")
        pane.press("Down")
        pane.wait_for("> rounds")
        pane.press("+")
        pane.wait_for("rounds    9", "not saved")
        pane.press("s")
        pane.wait_for("Saved.")
        pane.press("q")
        pane.wait_for("ended 0")
        self.assertEqual(path.read_text(), PROFILES[0].read_text().replace("rounds 8", "rounds 9"))
        self.assertEqual(path.stat().st_mode & 0o777, 0o640)

    def test_behind_a_symbolic_link(self):
        path = self.write("own.profile", PROFILES[0].read_text())
        link = self.home / "link.profile"
        link.symlink_to(path)
        pane = self.open(link)
        pane.wait_for("> warm-up")
        pane.press("+")
        pane.press("s")
        pane.wait_for("Saved.")
        self.assertTrue(link.is_symlink())
        self.assertIn("1:05", path.read_text())

    def test_changed_by_somebody_else(self):
        path = self.write("own.profile", PROFILES[0].read_text())
        pane = self.open(path)
        pane.wait_for("> warm-up")
        path.write_text("mine alone\n")
        pane.press("+")
        pane.press("s")
        pane.wait_for("The file was changed since it was read: not saved.", "Save as")
        self.assertEqual(path.read_text(), "mine alone\n")
        # nor is another one that was not read
        other = self.write("other.profile", "not yours\n")
        for _ in range(100):
            pane.press("BSpace")
        self.say(pane, str(other))
        pane.press("Enter")
        pane.wait_for("There is such a file already: not saved.")
        self.say(pane, "2")
        pane.press("Enter")
        pane.wait_for("Saved.")
        self.assertEqual(other.read_text(), "not yours\n")
        self.assertIn("1:05", pathlib.Path(f"{other}2").read_text())

    def test_cannot_be_written(self):
        pane = self.open(self.home / "none" / "new.profile")
        pane.wait_for("Press a")
        pane.press("a")
        pane.press("w")
        pane.press("s")
        pane.wait_for("It cannot be written: No such file or directory.", "Save as")

    # ---- what goes wrong ----

    def test_killed_in_mid_save(self):
        """Whenever it is: the file is the old one or the new one, whole."""
        path = self.home / "own.profile"
        old = PROFILES[0].read_text()
        new = old.replace("warm-up   1:00  power 40..55 %cp    cadence",
                          "warm-up   1:05  power 40..55 %cp  cadence")
        chance = random.Random(1)
        for _ in range(12):
            path.write_text(old)
            pane = self.open(path)
            pane.wait_for("> warm-up")
            pane.press("+")
            pane.wait_for("[1:05]")
            pid = pane.pid
            pane.press("s")
            time.sleep(chance.uniform(0, 0.02))
            os.kill(pid, signal.SIGKILL)
            pane.wait_for("ended 137")
            self.assertIn(path.read_text(), (old, new))
            pane.close()

    def test_sent_away(self):
        """By a signal: what was not saved is kept elsewhere, and told."""
        path = self.write("own.profile", PROFILES[0].read_text())
        pane = self.open(path)
        pane.wait_for("> warm-up")
        pane.press("+")
        pane.wait_for("[1:05]")
        os.kill(pane.pid, signal.SIGTERM)
        pane.wait_for("the draft was not saved; what it was is in", "ended 0")
        self.assertEqual(path.read_text(), PROFILES[0].read_text())
        kept = self.home / "data" / "afterset" / "unsaved-1.profile"
        self.assertIn("warm-up   1:05", kept.read_text())

    def test_file_with_faults(self):
        """It opens at the first one; mended it is a draft like any other, its comments in it."""
        text = ("# mine\ntitle A\nlength 3:00..7:00\nrounds 4\n  work 0:30 power up W  # stand up\n"
                "  rest 0:30 power 40..50 %cp\n")
        path = self.write("faulty.profile", text)
        pane = self.open(path)
        pane.wait_for("Line 5, column 19:", "expected a range such as 80..100, found 'up'",
                      ">   5   work 0:30 power up W  # stand up\n                        ^")
        pane.press("Enter")
        pane.wait_for("Enter  keep it")
        for _ in range(16):
            pane.press("BSpace")
        self.say(pane, "110..120 %cp # stand up")
        pane.press("Enter")
        pane.wait_for("expected an end for the rounds in line 4, found the end of the file")
        pane.press("u")
        pane.wait_for("found 'up'")
        pane.press("d")
        pane.wait_for("expected an end for the rounds")
        pane.press("a")
        self.say(pane, "end")
        pane.press("Enter")
        pane.wait_for("expected a work step")
        self.assertEqual(path.read_text(), text)
        pane.press("u")
        pane.wait_for("found 'up'")
        pane.press("Enter")
        pane.wait_for("Enter  keep it")
        for _ in range(16):
            pane.press("BSpace")
        self.say(pane, "110..120 %cp # stand up")
        pane.press("Enter")
        pane.wait_for("expected an end for the rounds")
        pane.press("a")
        self.say(pane, "end")
        pane.press("Enter")
        pane.wait_for("It can be read now. It is not saved yet.", "> rounds", "Can be ridden")
        self.assertEqual(path.read_text(), text)
        pane.press("s")
        pane.wait_for("Saved.")
        self.assertEqual(path.read_text(), text.replace("power up W  #", "power 110..120 %cp #") +
                         "end\n")

    def test_empty_file(self):
        path = self.write("empty.profile", "")
        pane = self.open(path)
        pane.wait_for("Press a to add the first step.")
        for key in "awaro":
            pane.press(key)
        pane.press("s")
        pane.wait_for("Saved.")
        self.assertIn("rounds 8\n", path.read_text())

    def test_file_that_cannot_be_read(self):
        pane = self.open(self.home)
        pane.wait_for("ended 1")
        self.assertIn("cannot be read", pane.text().replace("\n", ""))

    def test_too_small(self):
        path = self.write("own.profile", PROFILES[0].read_text())
        pane = self.open(path, columns=60, rows=20)
        pane.wait_for("Too small: 80x24.")
        pane.resize(80, 24)
        pane.wait_for("> warm-up", without=("Too small",))
        pane.resize(160, 50)
        pane.wait_for("> warm-up", "reserve")
        pane.press("q")
        pane.wait_for("ended 0")

    def test_plain_locale_and_no_colour(self):
        path = self.write("own.profile", PROFILES[0].read_text())
        pane = self.open(path, env=dict(self.env, LC_ALL="C", NO_COLOR="1"))
        seen = pane.wait_for("> warm-up", "reserve ###")
        self.assertTrue(seen.isascii())

    def test_no_terminal(self):
        self.assert_ends(self.run_program("draft"), 1, "draft needs a terminal")
        self.assert_ends(self.run_program("draft", "a", "b"), 2, "draft takes one profile, or none")


if __name__ == "__main__":
    main()
