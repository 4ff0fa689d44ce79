#!/usr/bin/env python3
"""The controller dies or stands still in mid-work: its guard releases the bike within a second.

AFTERSET_GUARD_TRIES: how often each is tried (default 20; the promise is 100 of 100).
"""
import fcntl
import json
import contextlib
import os
import pathlib
import pty
import signal
import socket
import subprocess
import sys
import termios
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from attributes import (INDICATE, NOTIFY, RESPONSE, SET_LEVEL, SET_POWER, STOP, SUCCESS,
                        WRITE_REQ)
from journey import (ASAN, DEADLINE_S, RELEASE, Journey, about, await_condition, connect, is_kind,
                     load_height, main, on_machines, real_time)
from sums import check_lines

TRIES = int(os.environ.get("AFTERSET_GUARD_TRIES", "20"))
RATE = 20
SOON_S = 1.0
DIED = (r"^afterset: the ride died \(signal 9\): its guard has released the load and stopped the "
        r"bike; ride \d+ is saved up to its last second, the next start recovers it$")
STOOD = (r"^afterset: the ride stood still and was ended \(signal 9\): its guard has released the "
         r"load and stopped the bike; ride \d+ is saved up to its last second, the next start "
         r"recovers it$")
# A brake that is turned by hand: there is nothing that a guard could write to the bike.
DIED_BY_HAND, STOOD_BY_HAND = (
    words.replace("its guard has released the load and stopped the bike",
                  "nothing but your hand takes the load off, ease the knob")
    for words in (DIED, STOOD))
STOOD_AND_WOKE = (r"^afterset: this program stood still, so its guard released the load and closed "
                  r"the link to the bike$")


class Wire(threading.Thread):
    """Between one ride after the other and the bike: passes packets on and notes when."""

    def __init__(self, path, bike_path):
        super().__init__(daemon=True)
        self.bike_path = bike_path
        self.listener = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        self.listener.bind(str(path))
        self.listener.listen(4)
        self.passed = []  # (when, who, packet)
        self.closed = threading.Event()

    def run(self):
        while True:
            try:
                ride, _ = self.listener.accept()
            except OSError:
                return
            self.passed = []
            self.closed.clear()
            self.pass_on(ride, self.reach_bike())
            self.closed.set()

    def reach_bike(self):
        """The bike takes a second central once it has seen that the first one is gone."""
        while True:
            bike = connect(self.bike_path)
            try:
                bike.send(bytes([0x02, 23, 0]))  # its answer shows that it takes this one
                if bike.recv(4096):
                    return bike
            except OSError:  # it may also close on what it has not read
                pass
            bike.close()

    def pass_on(self, ride, bike):
        def pass_back():
            while packet := self.receive(bike):
                self.passed.append((time.monotonic(), "bike", packet))
                with contextlib.suppress(OSError):  # who has gone is told nothing more
                    ride.send(packet)

        back = threading.Thread(target=pass_back, daemon=True)
        back.start()
        bike.settimeout(None)
        while packet := self.receive(ride):
            self.passed.append((time.monotonic(), "ride", packet))
            bike.send(packet)
        # The bike answers what it was last asked; one with sanitizers in it takes its time.
        give_up = time.monotonic() + 0.5
        while not self.is_answered() and time.monotonic() < give_up:
            time.sleep(0.002)
        bike.shutdown(socket.SHUT_RDWR)
        back.join()
        ride.close()
        bike.close()

    @staticmethod
    def receive(link):
        try:
            return link.recv(4096)
        except OSError:
            return b""

    def is_answered(self):
        told = self.commands(0)
        return not told or self.accepted(told[-1][1], told[-1][0])

    def commands(self, since):
        """(when, opcode, value) of what the control point was told."""
        return [(when, packet[3], int.from_bytes(packet[4:], "little"))
                for when, who, packet in list(self.passed)
                if who == "ride" and when >= since and packet[0] == WRITE_REQ and
                len(packet) > 4 and packet[3] in (SET_LEVEL, SET_POWER, STOP)]

    def since(self, since):
        return [(round((when - since) * 1000, 1), who, packet.hex(" "))
                for when, who, packet in list(self.passed) if when >= since]

    def accepted(self, opcode, since):
        answer = bytes([RESPONSE, opcode, SUCCESS])
        return any(who == "bike" and when >= since and packet[0] == INDICATE and
                   packet[3:6] == answer for when, who, packet in list(self.passed))


@real_time
class Guard(Journey):
    @property
    def by_hand(self):
        return self.machine == "no-control"

    @property
    def died(self):
        return DIED_BY_HAND if self.by_hand else DIED

    @property
    def stood(self):
        return STOOD_BY_HAND if self.by_hand else STOOD

    def setUp(self):
        super().setUp()
        self.bike = self.start_bike(self.home / "bike", "--rate", RATE)
        self.wire = Wire(self.home / "wire", self.home / "bike")
        self.addCleanup(self.wire.listener.close)
        self.wire.start()

    def start(self, *arguments, **more):
        return self.start_program("ride", self.short, "--jsonl", "--cautions-read", "--rate", RATE,
                                  "--bike", f"unix:{self.home / 'wire'}", *arguments, **more)

    def start_working(self, i=0, *arguments, **more):
        """In work, at a moment that differs from try to try."""
        ride = self.start(*arguments, **more)
        self.wait_working(ride)
        time.sleep(i % 7 * 0.004)
        return ride

    def assert_let_go(self, since):
        """Release, and stop, taken by the bike; gives the seconds until the release was sent. To a
        bike that takes nothing nothing is sent: those until the link is closed."""
        self.assertTrue(self.wire.closed.wait(DEADLINE_S))
        commands = self.wire.commands(since)
        if self.by_hand:
            self.assertEqual(self.wire.commands(0), [])
            return time.monotonic() - since
        setting = SET_LEVEL if self.machine == "level" else SET_POWER
        releases = [when for when, opcode, value in commands if opcode == setting and value <= 1]
        self.assertTrue(releases, f"no release: {commands}")
        self.assertEqual(commands[-1][1:], (STOP, 1))
        for opcode in (setting, STOP):
            self.assertTrue(self.wire.accepted(opcode, since),
                            f"the bike did not take it: {self.wire.since(since)}")
        return releases[0] - since

    def try_often(self, name, one_try):
        took_s, tries = [], TRIES if self.machine is None else 2
        for i in range(tries):
            with about(f"try {i}"):
                took_s.append(one_try(i))
        soon = sum(s < SOON_S for s in took_s)
        took_s.sort()
        if not self.by_hand:
            print(f"{name}: {soon} of {tries} released within {SOON_S:g} s; "
                  f"{took_s[0] * 1000:.1f} ms, {took_s[tries // 2] * 1000:.1f} ms, {took_s[-1] * 1000:.1f} ms")
        self.assertEqual(soon, tries)
        return tries

    # ---- the controller ----

    def kill_one(self, i):
        ride = self.start_working(i)
        since = time.monotonic()
        os.kill(ride.controller(), signal.SIGKILL)
        took_s = self.assert_let_go(since)
        done = ride.finish()
        self.assertEqual(done.status, 1)
        self.assertRegex(done.err.splitlines()[-1], self.died)
        return took_s

    def test_killed(self):
        tries = self.try_often("kill -9", self.kill_one)
        # The store has them all, with everything up to the last second.
        done = self.run_program("ride", self.short, "--jsonl", "--rate", 10000)
        self.assertEqual(done.status, 0, done.err)
        rides = self.run_program("log", "--jsonl", "--last", tries + 1).json()
        self.assertEqual(sorted(ride["state"] for ride in rides),
                         ["finished"] + tries * ["recovered"])

    def stop_one(self, i):
        ride = self.start_working(i)
        since = time.monotonic()
        os.kill(ride.controller(), signal.SIGSTOP)
        took_s = 0 if self.by_hand else self.assert_let_go(since)
        self.end_still(ride)
        done = ride.finish()
        self.assertEqual(done.status, 1)
        self.assertRegex(done.err.splitlines()[-1], self.stood)
        return took_s

    def end_still(self, ride):
        """A ride that stands still cannot end itself. Where no release shows that the guard knows
        of it, it is told until it does."""
        ride.signal(signal.SIGTERM)
        while self.by_hand and ride.process.poll() is None:
            time.sleep(0.05)
            ride.signal(signal.SIGTERM)

    def test_stopped(self):
        self.try_often("kill -STOP", self.stop_one)

    def test_wakes_up(self):
        """A block outlives a short sleep: the bike is called again, the load comes up the ramp."""
        ride = self.start_working()
        since = time.monotonic()
        os.kill(ride.controller(), signal.SIGSTOP)
        if self.by_hand:
            time.sleep(10 / RATE)
        else:
            self.assert_let_go(since)
        os.kill(ride.controller(), signal.SIGCONT)
        reasons = ("clock_jump",) if self.by_hand else ("link", "clock_jump")
        self.assertIn(ride.wait_for(is_kind("hold", on=True))["reason"], reasons)
        if not self.by_hand:
            self.check_way_up(ride)
        ride.signal(signal.SIGTERM)
        done = ride.finish()
        self.assert_ends(done, 0, "" if self.by_hand else STOOD_AND_WOKE)
        check_lines(self, done.json())

    def check_way_up(self, ride):
        """In steps of 50 W, or a quarter of 20 levels."""
        step, enough = (50, 150) if self.machine is None else (5, 6)
        loads = []
        while not loads or loads[-1] < enough:
            event = ride.wait_for(lambda event: event["event"] in ("load", "hold"))
            if event["event"] == "load":
                loads.append(load_height(event))
        self.assertLessEqual(loads[0], step)
        for before, after in zip(loads, loads[1:]):
            self.assertLessEqual(after - before, step)

    def test_with_sanitizers(self):
        with about("killed"):
            ride = self.start_working(program=ASAN)
            since = time.monotonic()
            os.kill(ride.controller(), signal.SIGKILL)
            self.assertLess(self.assert_let_go(since), SOON_S)
            self.assert_ends(ride.finish(), 1, DIED)

    def test_killed_while_it_captures(self):
        """The guard has the link, whatever stands between it and the ride."""
        capture = self.home / "capture"
        ride = self.start_working(0, "--capture", capture, program=ASAN)
        since = time.monotonic()
        os.kill(ride.controller(), signal.SIGKILL)
        self.assertLess(self.assert_let_go(since), SOON_S)
        self.assert_ends(ride.finish(), 1, DIED)
        self.assertGreater(capture.stat().st_size, 2000)

    # ---- the guard ----

    def test_guard_killed(self):
        """The ride does not go on without it: it releases, stops, and saves."""
        ride = self.start_working()
        since = time.monotonic()
        ride.process.kill()
        self.assertLess(self.assert_let_go(since), SOON_S)
        ride.rest()
        self.assertEqual(ride.process.wait(DEADLINE_S), -signal.SIGKILL)
        lines = [json.loads(line) for line in ride.text]
        check_lines(self, lines)
        self.assertEqual((lines[-1]["reason"], lines[-1]["released"]), ("unguarded", True))
        self.assertEqual(ride.process.stderr.read().decode(),
                         "afterset: the guard of this ride is gone, so the ride ends\n")
        await_condition(lambda: self.show(1)["state"] == "finished", "the ride in the store")

    def test_complaints_wait_for_nobody(self):
        """Of an output that fails it is complained where nobody reads: the ride goes on."""
        unread, errors = os.pipe()
        self.addCleanup(lambda: [os.close(end) for end in (unread, errors)])
        fcntl.fcntl(errors, fcntl.F_SETPIPE_SZ, 4096)
        os.write(errors, bytes(4096))
        full = os.open("/dev/full", os.O_WRONLY)
        self.addCleanup(os.close, full)
        ride = subprocess.Popen(
            [RELEASE, "ride", self.short, "--jsonl", "--cautions-read", "--rate", str(RATE),
             "--bike", f"unix:{self.home / 'wire'}"], env=self.env, stdin=subprocess.DEVNULL,
            stdout=full, stderr=errors)
        self.addCleanup(ride.wait)
        self.addCleanup(ride.kill)
        await_condition(self.is_under_way, "a load")
        since = time.monotonic()
        ride.terminate()
        self.assertLess(self.assert_let_go(since), SOON_S)
        os.read(unread, 4096)
        self.assertEqual(ride.wait(DEADLINE_S), 1)
        self.assertRegex(os.read(unread, 4096).decode(), "^afterset: the output cannot be written")

    def is_under_way(self):
        if self.by_hand:
            return sum(packet[0] == NOTIFY for _, _, packet in list(self.wire.passed)) > 40
        least = 100 if self.machine is None else 10
        return any(value > least for _, opcode, value in self.wire.commands(0) if opcode != STOP)

    def test_signals_reach_the_ride(self):
        """The program's number is the guard's, and whoever has it sends signals there."""
        for number, reason in ((signal.SIGTERM, "left"), (signal.SIGHUP, "left"),
                               (signal.SIGINT, "stop_key")):
            with about(f"signal {number}"):
                ride = self.start_working()
                ride.signal(number)
                if number == signal.SIGINT:
                    ride.wait_for(is_kind("phase", phase="easy"))
                    ride.signal(number)
                done = ride.finish()
                self.assert_ends(done, 0)
                self.assertEqual(done.json()[-1]["reason"], reason)
        ride = self.start_working()
        ride.signal(signal.SIGTSTP)
        self.assertEqual(ride.wait_for(is_kind("hold", on=True))["reason"], "rider")
        ride.signal(signal.SIGTERM)
        self.assert_ends(ride.finish(), 0)

    # ---- the terminal ----

    def test_terminal(self):
        master, slave = pty.openpty()
        self.addCleanup(lambda: [os.close(end) for end in (master, slave)])
        before = termios.tcgetattr(slave)
        with about("a key that stops, and counts once"):
            ride = self.start_working(terminal=slave)
            os.write(master, b"\x03")
            ride.wait_for(is_kind("phase", phase="easy"))
            for _ in range(3):
                self.assertNotEqual(ride.wait_for(is_kind("telemetry")), None)
            os.write(master, b"\x03")
            self.assert_ends(ride.finish(), 0)
        for number, words in ((signal.SIGKILL, self.died), (signal.SIGSTOP, self.stood)):
            with about(f"signal {number}"):
                ride = self.start_working(terminal=slave)
                self.assertNotEqual(termios.tcgetattr(slave), before)
                os.kill(ride.controller(), number)
                if number == signal.SIGSTOP and self.by_hand:
                    self.end_still(ride)
                elif number == signal.SIGSTOP:
                    self.assertTrue(self.wire.closed.wait(DEADLINE_S))
                    os.write(master, b"\x03")
                done = ride.finish()
                self.assertEqual(done.status, 1)
                self.assertRegex(done.err.splitlines()[-1], words)
                self.assertEqual(termios.tcgetattr(slave), before)

globals().update(on_machines(Guard, "test_killed", "test_stopped", "test_wakes_up",
                             "test_guard_killed", "test_complaints_wait_for_nobody",
                             "test_signals_reach_the_ride", "test_terminal"))


if __name__ == "__main__":
    main()
