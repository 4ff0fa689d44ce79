#!/usr/bin/env python3
"""Keys, signals, hang-ups and readers that go away, with a real terminal around the ride."""
import json
import os
import pathlib
import pty
import re
import signal
import subprocess
import sys
import termios
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import (ASAN, DEADLINE_S, RELEASE, Journey, about, await_condition, is_kind, main,
                     on_machines, real_time)
from sums import check_lines

RATE = 20
SINGLE_KEYS = termios.ICANON | termios.ECHO


@real_time
class Terminal(Journey):
    def setUp(self):
        super().setUp()
        self.master, self.slave = pty.openpty()
        self.open_ends = [self.master, self.slave]
        self.addCleanup(lambda: [os.close(end) for end in self.open_ends])
        self.before = termios.tcgetattr(self.slave)

    def start(self, *arguments, profile=None, rate=RATE):
        """A ride whose standard input is the terminal, which is its controlling one."""
        return self.start_program("ride", profile or self.short, "--jsonl", "--rate", rate,
                                  *arguments, terminal=self.slave)

    def close_end(self, end):
        self.open_ends.remove(end)
        os.close(end)

    def press(self, keys):
        os.write(self.master, keys)

    def assert_restored(self):
        self.assertEqual(termios.tcgetattr(self.slave), self.before)

    def end(self, ride, status=0, err=""):
        done = ride.finish()
        self.assert_ends(done, status, err)
        self.assert_restored()
        lines = done.json()
        check_lines(self, lines)
        return lines

    def wait_riding(self, ride):
        self.wait_working(ride)
        self.assertEqual(termios.tcgetattr(self.slave)[3] & SINGLE_KEYS, 0, "keys need Enter")

    def wait_load(self, ride, what):
        """Or a reading, where nothing is told the machine."""
        kind = {None: "power", "level": "level"}.get(self.machine)
        ride.wait_for(is_kind("load", kind=kind) if kind else is_kind("telemetry"), what)

    def assert_released(self, ride, event):
        """The load went with this event; commands come before everything that is told of it."""
        loads = [line for line in map(json.loads, ride.text) if line["event"] == "load"]
        if self.machine == "no-control":
            self.assertEqual(loads, [])
            return
        self.assertEqual((loads[-1]["kind"], loads[-1]["t_ms"]), ("released", event["t_ms"]))

    def assert_lets_go(self, ride_id=1):
        """The last two commands: the load off, and stop. None to a bike that takes none."""
        commands = re.findall("^< command (.*)$", self.journal(ride_id), re.M)
        self.assertEqual(commands[-2:], [] if self.machine == "no-control" else
                         ["command=load now=1", "command=stop now=1"])

    # ---- keys ----

    def test_hold_and_resume(self):
        ride = self.start()
        self.wait_riding(ride)
        self.press(b" ")
        hold = ride.wait_for(is_kind("hold", on=True))
        self.assertEqual(hold["reason"], "rider")
        self.assert_released(ride, hold)
        self.press(b" ")
        ride.wait_for(is_kind("hold", on=False), "the end of the hold")
        self.wait_load(ride, "the load again")
        self.press(b"s")
        ride.wait_for(is_kind("phase", phase="easy"))
        self.press(b"s")
        lines = self.end(ride)
        self.assertEqual((lines[-1]["end"], lines[-1]["reason"]), ("stopped", "stop_key"))

    def test_stop_and_leave(self):
        for key in (b"s", b"q", b"\x03"):
            with about(f"key {key}"):
                ride = self.start()
                self.wait_riding(ride)
                self.press(key)
                caution = ride.wait_for(is_kind("caution", caution="keep_turning"))
                self.assert_released(ride, caution)
                # Riding out goes on until the key comes again.
                ride.wait_for(is_kind("telemetry"))
                self.press(key)
                lines = self.end(ride)
                self.assertEqual((lines[-1]["end"], lines[-1]["reason"]), ("stopped", "stop_key"))
                # Nothing to take, nothing to wait for.
                last = ["easy", "ended"] if self.machine == "no-control" else \
                    ["easy", "leaving", "ended"]
                phases = [line["phase"] for line in lines if line["event"] == "phase"]
                self.assertEqual(phases[-len(last):], last)
                self.assert_lets_go(lines[0]["ride_id"])

    def test_more_and_less(self):
        """Two per cent a key: the middle of 200 to 220 W is 210."""
        ride = self.start()
        ride.wait_for(is_kind("load", power_w=210), "the whole load")
        self.press(b"-")
        ride.wait_for(is_kind("load", power_w=205), "2 % less")
        self.press(b"++")
        ride.wait_for(is_kind("load", power_w=214), "2 % more")
        self.press(b"xyz\x1b[A\xff\n")  # no keys of a ride
        self.press(b"\x03")
        ride.wait_for(is_kind("phase", phase="easy"))
        self.press(b"\x03")
        self.end(ride)

    def test_keys_thrown_away(self):
        """Input may be gone again by the time it is read: the ride does not wait for more."""
        ride = self.start()
        self.wait_riding(ride)
        for _ in range(20000):
            self.press(b"x")
            termios.tcflush(self.slave, termios.TCIFLUSH)
        ride.wait_for(lambda event: event["t_ms"] > 30000, "the time after it")
        ride.signal(signal.SIGTERM)
        self.end(ride)

    def test_next_step(self):
        ride = self.start()
        self.wait_riding(ride)
        for index in range(1, 9):  # four rounds of two, and the cool-down
            self.press(b"nn")
            ride.wait_for(is_kind("step", index=index), f"step {index}")
        self.press(b"nn")
        lines = self.end(ride)
        self.assertEqual((lines[-1]["end"], lines[-1]["reason"]), ("done", "plan_done"))

    def test_cautions_by_word(self):
        """A bike that is not ours: the cautions are shown, and 'yes' is remembered."""
        path = self.home / "bike"
        self.start_bike(path, "--rate", RATE, program=ASAN)  # not the same file, so not ours
        for answers in ([b"no\n"], [b"yes\n"], []):
            ride = self.start("--bike", f"unix:{path}")
            for answer in answers:
                self.press(answer)
            if answers == [b"no\n"]:
                done = ride.finish()
                self.assertEqual((done.status, done.out), (1, ""))
                self.assertRegex(done.err, "(?s)Type 'yes' and Enter .*not accepted")
                continue
            ride.wait_for(is_kind("phase", phase="ready"), "the machine")
            ride.signal(signal.SIGTERM)
            done = ride.finish()
            self.assertEqual(done.status, 0)
            self.assertEqual("Type 'yes'" in done.err, bool(answers))
            self.assert_restored()

    # ---- signals ----

    def test_ctrl_z_holds(self):
        ride = self.start()
        self.wait_riding(ride)
        self.press(b"\x1a")
        self.assertEqual(ride.wait_for(is_kind("hold", on=True))["reason"], "rider")
        # Once more does nothing: it must not bring the load back.
        ride.signal(signal.SIGTSTP)
        self.press(b" ")
        ride.wait_for(is_kind("hold", on=False), "the end of the hold")
        ride.signal(signal.SIGTERM)
        self.end(ride)

    def test_signals_without_terminal(self):
        for number, reason in ((signal.SIGTERM, "left"), (signal.SIGHUP, "left"),
                               (signal.SIGINT, "stop_key")):
            with about(f"signal {number}"):
                ride = self.start_program("ride", self.short, "--jsonl", "--rate", RATE)
                self.wait_load(ride, "a load")
                ride.signal(number)
                if number == signal.SIGINT:
                    ride.wait_for(is_kind("phase", phase="easy"))
                    ride.signal(number)
                done = ride.finish()
                self.assert_ends(done, 0)
                lines = done.json()
                check_lines(self, lines)
                self.assertEqual((lines[-1]["end"], lines[-1]["reason"]), ("stopped", reason))
                self.assertEqual(self.show(lines[0]["ride_id"])["reason"], reason)
                self.assert_lets_go(lines[0]["ride_id"])

    def test_stopped_and_continued(self):
        """Asleep for more than 5 s of the ride: its guard let go, and it is held until the rider
        goes on."""
        path = self.home / "bike"
        self.start_bike(path, "--rate", RATE)
        ride = self.start("--bike", f"unix:{path}")
        self.wait_riding(ride)
        before = ride.wait_for(is_kind("telemetry"))["t_ms"]
        os.kill(ride.controller(), signal.SIGSTOP)
        begun = time.monotonic()
        await_condition(lambda: time.monotonic() > begun + 8 / RATE, "8 s of the ride")
        os.kill(ride.controller(), signal.SIGCONT)
        hold = ride.wait_for(is_kind("hold", on=True), "the hold")
        self.assertEqual(hold["reason"], "clock_jump")
        self.assertGreater(hold["t_ms"] - before, 5000)
        # The bike is called again, and turns without a load until the rider says so.
        if self.machine != "no-control":
            ride.wait_for(is_kind("load", kind="released"), "the bike again")
        self.press(b" ")
        ride.wait_for(is_kind("hold", on=False), "the end of the hold")
        self.wait_load(ride, "the load again")
        ride.signal(signal.SIGTERM)
        # Where the load is made by hand there was nothing to release, and no link was closed.
        self.end(ride, err="" if self.machine == "no-control" else
                 "^afterset: this program stood still, so its guard released the load and closed "
                 "the link to the bike$")

    # ---- what goes away ----

    def test_hang_up(self):
        """The terminal is closed: the load goes, the ride is saved."""
        ride = self.start()
        self.wait_riding(ride)
        self.close_end(self.master)
        done = ride.finish()
        self.assert_ends(done, 0)
        lines = done.json()
        check_lines(self, lines)
        self.assertEqual((lines[-1]["end"], lines[-1]["reason"]), ("stopped", "left"))
        self.assertEqual(self.show(1)["state"], "finished")
        self.assert_lets_go()

    def test_reader_leaves(self):
        """As `| head -3` does."""
        ride = self.start_program("ride", self.short, "--jsonl", "--rate", 100)
        for _ in range(3):
            ride.event()
        ride.process.stdout.close()
        self.assertEqual(ride.process.wait(DEADLINE_S), 0)
        self.assertEqual(ride.process.stderr.read(), b"")
        stored = self.show(1)
        self.assertEqual((stored["state"], stored["end"], stored["reason"]),
                         ("finished", "stopped", "left"))

    def test_reader_sleeps(self):
        """Nobody reads: the ride goes on to its end all the same, and is saved whole."""
        ride = self.start_program("ride", self.short, "--jsonl", "--rate", 10000)
        self.assertEqual(ride.process.wait(DEADLINE_S), 0)
        stored = self.show(1)
        self.assertEqual((stored["end"], stored["reason"], stored["duration_s"]),
                         ("done", "plan_done", 185))
        ride.rest()
        self.assertEqual(ride.text[0][:16], '{"event":"hello"')

    def test_reader_is_slow(self):
        """What a slow reader gets is whole as long as the program waits for it at the end."""
        ride = self.start_program("ride", self.short, "--jsonl", "--rate", 10000)
        await_condition(lambda: self.is_stored(), "the end of the ride")
        done = ride.finish()
        self.assert_ends(done, 0)
        check_lines(self, done.json())

    def is_stored(self):
        done = self.run_program("log", "--jsonl")
        return '"finished"' in done.out

    def test_terminal_stands_still(self):
        """A terminal whose other end reads nothing holds up a ride no more than a pipe does."""
        done = subprocess.run([RELEASE, "ride", self.short, "--rate", "10000", "--jsonl"],
                              env=self.env, stdin=subprocess.DEVNULL, stdout=self.slave,
                              stderr=subprocess.PIPE, timeout=DEADLINE_S, check=False)
        self.assertEqual((done.returncode, done.stderr), (0, b""))
        self.assertEqual(self.show(1)["reason"], "plan_done")

    def test_full_device(self):
        """Nobody has gone: the ride goes on, what could not be said is told and not called done."""
        for program in (RELEASE, ASAN):
            with open("/dev/full", "wb") as full:
                done = subprocess.run([program, "ride", self.short, "--jsonl", "--rate", "10000"],
                                      env=self.env, stdin=subprocess.DEVNULL, stdout=full,
                                      stderr=subprocess.PIPE, timeout=DEADLINE_S, check=False)
            self.assertEqual(done.stderr, b"afterset: the output cannot be written: No space "
                                          b"left on device; the ride goes on without it\n")
            self.assertEqual(done.returncode, 1)
        self.assertEqual([self.show(ride)["reason"] for ride in (1, 2)], 2 * ["plan_done"])

    # ---- plain text on a terminal ----

    def test_plain(self):
        """Text for people: no escape sequences, at most 100 columns, a summary at the end."""
        done = self.run_program("ride", self.short, "--rate", 10000)
        self.assert_ends(done, 0)
        self.assertNotIn("\x1b", done.out)
        long = [line for line in done.out.splitlines() if len(line) > 100]
        self.assertEqual(long, [])
        self.assertRegex(done.out, "kJ")
        self.assertRegex(done.out, "kcal")

globals().update(on_machines(Terminal, "test_hold_and_resume", "test_stop_and_leave",
                             "test_next_step", "test_ctrl_z_holds", "test_signals_without_terminal",
                             "test_stopped_and_continued", "test_hang_up"))


if __name__ == "__main__":
    main()
