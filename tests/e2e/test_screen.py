#!/usr/bin/env python3
"""The ride on the whole terminal: rides with keys sent into tmux and the pane looked at."""
import fcntl
import os
import pathlib
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import (ASAN, DEADLINE_S, MACHINES, RELEASE, RIDERS, ROOT, Journey, await_condition, main,
                     on_machines, real_time)
from pane import Pane

RATE = 10
COLOUR = re.compile(r"\x1b\[[0-9;]*\b(3[0-7]|38;5;[0-9]+)m")


@real_time
class Screen(Journey):
    def start(self, *arguments, program=RELEASE, rate=RATE, **options):
        pane = Pane([program, "ride", self.short, "--rate", rate, *arguments], self.env, **options)
        self.addCleanup(pane.close)
        return pane

    def wait_work(self, pane):
        return pane.wait_for("WORK 1 OF 4", "in range", "s stop")

    def end(self, pane, status=0):
        """It has ended; the summary stands below what was there before, the terminal is as it was.
        """
        await_condition(lambda: any(text in pane.text() for text in ("How hard?", "ended ")),
                        "the end of the ride")
        if "How hard?" in pane.text():
            pane.press("q")
        seen = pane.wait_for(f"ended {status}")
        self.assertIn("before the ride", seen)
        self.assertEqual(pane.flag("alternate_on"), "0")
        self.assertEqual(pane.flag("cursor_flag"), "1")
        self.assertTrue(pane.modes_are_back())
        return seen

    def assert_lets_go(self, ride_id=1):
        commands = re.findall("^< command (.*)$", self.journal(ride_id), re.M)
        self.assertEqual(commands[-2:], ["command=load now=1", "command=stop now=1"])

    def keys_of(self, ride_id=1):
        return re.findall(r"^> [0-9]+ key key=(\w+)", self.journal(ride_id), re.M)

    # ---- a ride ----

    def test_ride_with_every_key(self):
        pane = self.start(program=ASAN)
        self.wait_work(pane)
        pane.press("Space")
        pane.wait_for("HELD in work 1 of 4", "Held, load off.", "space go on")
        pane.press("Space")
        pane.wait_for("WORK 1 OF 4", "space hold")
        pane.press("+")
        pane.wait_for("load +2 %")
        pane.press("-", "-")
        pane.wait_for("load -2 %")
        pane.press("m")
        pane.wait_for("muted", "m sound")
        pane.press("n", "n")
        pane.wait_for("REST 1 OF 4", "then work 2 of 4 0:30, 196..215 W")
        pane.press("s")
        pane.wait_for("RIDING OUT", "s leave", "Keep the legs turning.")
        pane.press("x")
        pane.wait_for("RIDING OUT", without=["Keep the legs turning."])
        pane.press("q")
        seen = self.end(pane)
        self.assertIn("Stopped: by your key.", seen)
        self.assertIn("1 step was skipped.", seen)
        self.assertIn("Saved as ride 1", seen)
        self.assert_lets_go()

    def test_what_is_said_of_the_effort_counts_at_once(self):
        """Two blocks that go well: 3 % more; 2 % where one was harder than 8 (README, Next time)."""
        self.assert_ends(self.run_program("ride", self.short, "--rate", 10000), 0)
        pane = self.start(rate=200)
        pane.wait_for("How hard?", "(+3 %)")
        pane.press("9")
        pane.wait_for("[9]", "(+2 %)")
        pane.press("q")
        seen = pane.wait_for("ended 0")
        self.assertIn("effort 9", " ".join(seen.split()))
        self.assertIn("(+2 %)", seen)

    def test_skip_takes_the_key_twice(self):
        pane = self.start(rate=1)
        self.wait_work(pane)
        pane.press("n")
        pane.wait_for("n once more goes to the next step.", "WORK 1 OF 4")
        begun = time.monotonic()
        pane.wait_for("WORK 1 OF 4", without=["n once more"])
        self.assertGreater(time.monotonic() - begun, 2)
        pane.press("n", "n")
        pane.wait_for("REST 1 OF 4")
        pane.press("C-c")
        pane.wait_for("RIDING OUT")
        pane.press("C-c")
        self.end(pane)
        self.assertEqual(self.keys_of(), ["skip", "stop", "stop"])
        shown = self.run_program("show", 1)
        self.assertRegex(shown.out, "\n  End  .*\n *1 step was skipped\n")

    def test_ctrl_z_holds(self):
        pane = self.start()
        self.wait_work(pane)
        pane.press("C-z")
        pane.wait_for("HELD in")
        pane.press("Up", "F5", "Escape", "é", "C-s", "Enter")  # nothing of it is a key of the ride
        pane.press("s")
        pane.wait_for("RIDING OUT")
        pane.press("s")
        self.end(pane)
        self.assertEqual(self.keys_of(), ["pause", "stop", "stop"])

    def test_to_the_end(self):
        pane = self.start(rate=100)
        self.assertIn("Done: the plan was ridden to its end.", self.end(pane))
        self.assertEqual(self.show(1)["duration_s"], 185)

    def test_resize(self):
        pane = self.start()
        self.wait_work(pane)
        pane.resize(132, 43)
        # The large readings, which 80x24 has no room for: the name above the number.
        pane.wait_for("  s stop", "heart bpm, limit ")
        pane.resize(60, 20)
        seen = pane.wait_for("Too small: 80x24")
        self.assertRegex(seen, r"^[0-9]+ W s stop  [0-9]+ s left")
        self.assertEqual(seen.strip().count("\n"), 0)
        pane.resize(80, 24)
        seen = pane.wait_for("  s stop", "kJ", "limit", without=["Too small"])
        self.assertEqual(len(seen.splitlines()), 24)
        pane.press("s")
        pane.wait_for("RIDING OUT")
        pane.press("s")
        self.end(pane)

    def test_stopped_and_continued(self):
        """A shell in between leaves the terminal as shells do: it is taken over again."""
        pane = self.start()
        self.wait_work(pane)
        tty = pane.flag("pane_tty")
        os.kill(pane.pid, signal.SIGSTOP)
        subprocess.run(["stty", "-F", tty, "sane"], check=True, timeout=DEADLINE_S)
        pathlib.Path(tty).write_bytes(b"\x1b[2J\x1b[Hof the shell")
        pane.wait_for("of the shell", without=["s stop"])
        os.kill(pane.pid, signal.SIGCONT)
        pane.wait_for("s stop", "short block", without=["of the shell"])
        pane.press("s")
        pane.wait_for("RIDING OUT")
        pane.press("s")
        self.end(pane)

    # ---- cut off ----

    def test_cut_off_and_acknowledgement(self):
        pane = self.start("--virtual-rider", RIDERS / "racing-heart.rider")
        pane.wait_for("CUT OFF: heart rate over your limit", "The load is taken off.",
                      "Press Enter", "Enter seen", "s leave")
        pane.press("Space", "n", "n", "+", "x")
        pane.wait_for("CUT OFF: heart rate over your limit", "RIDING OUT")
        pane.press("Enter")
        pane.wait_for("RIDING OUT", without=["CUT OFF", "Enter seen"])
        pane.press("s")
        self.assertIn("Cut off: heart rate over your limit.", self.end(pane, 3))
        self.assert_lets_go()

    def test_stop_leaves_a_cut_off(self):
        """Nobody has to read before they may go."""
        pane = self.start("--machine", MACHINES / "safety-key.machine")
        pane.wait_for("CUT OFF: the bike's safety key was pulled")
        pane.press("s")
        self.assertIn("Cut off: the bike's safety key was pulled.", self.end(pane, 3))

    def test_readme_shows_what_is_drawn(self):
        readme = (ROOT / "README.md").read_text()
        for moment in ("ready-80x24", "work-80x24", "held-80x24", "cut-off-80x24"):
            capture = (ROOT / "tests" / "screens" / f"{moment}.txt").read_text().splitlines()
            shown = "".join(f"    {line}".rstrip() + "\n" for line in capture)
            self.assertIn(shown.rstrip("\n"), readme, moment)

    # ---- terminals ----

    def test_plain_c_locale(self):
        self.env["LC_ALL"] = "C"
        self.short.write_text(self.short.read_text().replace("Invented", "Inventé"))
        pane = self.start()
        seen = self.wait_work(pane)
        self.assertIn("Invent? short block", seen)
        self.assertIn("######", seen)
        self.assertTrue(seen.isascii())

    def test_colour_where_it_is_wanted(self):
        for refused in (None, "", "1"):
            with self.subTest(NO_COLOR=refused):
                self.env.pop("NO_COLOR", None)
                if refused is not None:
                    self.env["NO_COLOR"] = refused
                pane = self.start()
                pane.wait_for(" W low")  # the load is on its way up
                coloured = COLOUR.search(pane.text("-e")) is not None
                pane.close()
                self.assertEqual(coloured, not refused)

    def test_terminal_that_cannot_be_drawn_on(self):
        for term in ("dumb", "no-such-terminal"):
            pane = self.start(term=term)
            seen = pane.wait_for("Pedal to start.", "work 1 of 4 for 0:30")
            self.assertNotIn("\N{FULL BLOCK}", seen)
            pane.press("s")
            pane.wait_for("Pedal easily")
            pane.press("s")
            pane.wait_for("ended 0")
            pane.close()

    def test_plain_is_asked_for(self):
        pane = self.start("--plain")
        pane.wait_for("s left of work 1 of 4")
        pane.press("n")
        pane.wait_for("n once more goes to the next step.")
        pane.press("m")
        pane.wait_for("Sound off")
        self.assertEqual(pane.flag("alternate_on"), "0")

    def test_terminal_killed(self):
        pane = self.start()
        self.wait_work(pane)
        pane.tmux("kill-server")
        await_condition(lambda: self.show(1)["state"] == "finished", "the end of the ride")
        self.assertEqual(self.show(1)["reason"], "left")
        self.assert_lets_go()

    def test_crash_gives_the_terminal_back(self):
        for number in (signal.SIGSEGV, signal.SIGABRT, signal.SIGBUS, signal.SIGFPE,
                       signal.SIGILL):
            pane = self.start()
            self.wait_work(pane)
            self.assertEqual(pane.flag("alternate_on"), "1")
            os.kill(pane.pid, number)
            self.end(pane, 128 + number)
            pane.close()

    def test_terminal_stands_still(self):
        """Nobody reads what is drawn: frames are left out, the release is not late, it ends."""
        master, slave = pty.openpty()
        self.addCleanup(os.close, master)
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 70, 250, 0, 0))
        before = termios.tcgetattr(slave)

        def prepare():
            os.setsid()
            fcntl.ioctl(0, termios.TIOCSCTTY, 0)

        ride = subprocess.Popen([RELEASE, "ride", self.short, "--rate", str(RATE)],
                                env=dict(self.env, TERM="xterm-256color"), stdin=slave,
                                stdout=slave, stderr=subprocess.PIPE, preexec_fn=prepare)
        self.addCleanup(ride.kill)
        await_condition(lambda: "\n< step" in self.events_so_far(), "the first step")
        await_condition(lambda: not select.select([], [slave], [], 0)[1], "a terminal that is full")
        os.write(master, b"s")
        begun = time.monotonic()
        await_condition(lambda: " key key=stop" in self.events_so_far(), "the stop")
        os.write(master, b"s")
        self.assertEqual(ride.wait(DEADLINE_S), 0)
        self.assertLess(time.monotonic() - begun, 6)
        ride.stderr.close()
        self.assertEqual(termios.tcgetattr(slave), before)
        os.close(slave)
        journal = self.journal(1)
        stop = re.search(r"^> ([0-9]+) key key=stop\n(< command command=load now=1)$", journal,
                         re.M)
        self.assertIsNotNone(stop, journal[-2000:])
        self.assert_lets_go()

    def events_so_far(self):
        done = self.run_program("show", 1, "--journal")
        return done.out

globals().update(on_machines(Screen, "test_ride_with_every_key",
                             "test_to_the_end"))


if __name__ == "__main__":
    main()
