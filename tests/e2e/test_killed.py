#!/usr/bin/env python3
"""Rides killed at many moments: nothing but the last second is lost, and the bike lets go."""
import pathlib
import re
import signal
import time
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from attributes import (BIKE_DATA, FITNESS_MACHINE, TRAINING_STATUS, Client, bike_power_w)
from journey import ASAN, RELEASE, Journey, about, main, on_machines, real_time

LOST_MS = 1250  # what is written once a second, and the tick that notices
LATE_MS = 1000  # more where the ride's time runs on by itself: 50 ms of a busy machine at rate 20
RECOVERED = r"^afterset: ride {} was broken off; (\d+):(\d\d) of it is recovered " \
            r"\('afterset show {}'\)$"
# In the ride's own time: before the start, around the ends of steps, and in between.
MOMENTS_MS = (1500, 3500, 6250, 7000, 9250, 13000, 21250, 29000, 36250, 37500,
              41000, 50750, 51250, 60000, 81000, 96500, 111250, 141250, 160000, 171000)


@real_time
class Killed(Journey):
    def setUp(self):
        super().setUp()
        self.kept = {}  # ride → its journal when it was recovered

    def kill_at(self, t_ms, *arguments, program=RELEASE):
        """Gives the lines that came out of it, the last whole one included."""
        ride = self.start_program("ride", self.short, "--jsonl", *arguments, program=program)
        ride.wait_for(lambda event: event["t_ms"] >= t_ms)
        done = ride.kill()
        self.assertEqual(done.status, -signal.SIGKILL)
        lines = done.json()
        self.assertNotEqual(lines[-1]["event"], "summary")
        return lines

    def check_recovered(self, lines, err, lost_ms=LOST_MS):
        """Everything told more than a second before the kill is in the recovered ride."""
        ride_id = lines[0]["ride_id"]
        found = re.match(RECOVERED.format(ride_id, ride_id), err)
        self.assertTrue(found, err)
        stored = self.show(ride_id)
        self.assertEqual((stored["state"], stored["end"], stored["reason"]),
                         ("recovered", "stopped", "recovered"))
        self.assertEqual(int(found[1]) * 60 + int(found[2]), stored["duration_s"])
        began_ms = next((line["t_ms"] for line in lines if line.get("phase") == "riding"), None)
        if began_ms is not None:
            told_s = (lines[-1]["t_ms"] - began_ms) / 1000
            self.assertAlmostEqual(stored["duration_s"], told_s, delta=lost_ms / 1000 + 1)
        journal = self.journal(ride_id)
        self.check_samples(journal, lines, lost_ms)
        self.check_replay(journal)
        self.kept[ride_id] = journal

    def check_samples(self, journal, lines, lost_ms):
        told = [(line["power_w"], line["cadence_rpm"], line["distance_m"]) for line in lines
                if line["event"] == "telemetry" and line["t_ms"] <= lines[-1]["t_ms"] - lost_ms]
        kept = []
        for effect in re.findall(r"^< sample (.*)$", journal, re.M):
            fields = dict(re.findall(r"(\w+)=(\d+)", effect))
            kept.append(tuple(int(fields.get(key, 0))
                              for key in ("power_w", "cadence_rpm", "distance_m")))
        self.assertEqual(kept[:len(told)], told)

    def check_replay(self, journal):
        done = self.run_program("replay", self.write("broken.journal", journal))
        self.assert_ends(done, 0)
        self.assertRegex(done.out, "all as recorded; it broke off in mid-ride\n$")

    def next_ride(self, *arguments):
        """A whole one; its start recovers what is to be recovered."""
        done = self.run_program("ride", self.short, "--jsonl", *arguments)
        self.assertEqual(done.status, 0, done.err)
        return done

    def check_nothing_else_is_lost(self):
        for ride_id, journal in self.kept.items():
            self.assertEqual(self.journal(ride_id), journal)

    def test_virtual_bike_inside(self):
        for i, t_ms in enumerate(MOMENTS_MS):
            program = ASAN if i % 5 == 4 else RELEASE
            with about(f"killed at {t_ms} ms"):
                lines = self.kill_at(t_ms, "--rate", 200, program=program)
                done = self.next_ride("--rate", 10000)
                self.assert_one_line(done.err)
                self.check_recovered(lines, done.err)
        self.check_nothing_else_is_lost()
        log = self.run_program("log", "--last", 100)
        self.assert_ends(log, 0)
        self.assertEqual(len(re.findall("recovered$", log.out, re.M)), len(MOMENTS_MS))
        self.assertEqual(len(re.findall("done$", log.out, re.M)), len(MOMENTS_MS))

    def test_killed_again_and_again(self):
        """Rides that are killed one after the other are recovered at the start of the next."""
        before = None
        for t_ms in MOMENTS_MS[::4]:
            lines = self.kill_at(t_ms, "--rate", 200)
            if before is not None:
                self.assertEqual(self.show(before[0]["ride_id"])["state"], "recovered")
            before = lines
        done = self.next_ride("--rate", 10000)
        self.check_recovered(before, done.err)
        states = [line["state"] for line in
                  self.run_program("log", "--jsonl").json()]
        self.assertEqual(states, ["finished"] + 5 * ["recovered"])

    def test_unfinished_until_the_next_start(self):
        lines = self.kill_at(20000, "--rate", 200)
        stored = self.show(lines[0]["ride_id"])
        self.assertEqual(stored["state"], "riding")
        log = self.run_program("log", "--last", 5)
        self.assert_ends(log, 0)
        self.assertRegex(log.out, "(?m)unfinished$")

    def test_virtual_bike_apart(self):
        """One bike outlives twenty riders. Each ride's start recovers the one before."""
        path = self.home / "bike"
        bike = self.start_bike(path, "--rate", 20)
        before = None
        for t_ms in MOMENTS_MS if self.machine is None else MOMENTS_MS[2::6]:
            with about(f"killed at {t_ms} ms"):
                # Pedals are turning from the second ride on: a third of the time will do.
                ride = self.start_program("ride", self.short, "--jsonl", "--bike", f"unix:{path}",
                                          "--rate", 20)
                ride.wait_for(lambda event, t_ms=t_ms: event["t_ms"] >= t_ms / 3)
                done = ride.kill()
                first, _, rest = done.err.partition("\n")
                if before is not None:
                    self.check_recovered(before, first + "\n", LOST_MS + LATE_MS)
                self.check_guard(done.status, first if before is None else rest)
                before = done.json()
        done = self.next_ride("--rate", 10000)
        self.check_recovered(before, done.err, LOST_MS + LATE_MS)
        self.check_nothing_else_is_lost()
        bike.signal(signal.SIGTERM)
        self.assert_ends(bike.finish(), 0)

    def check_guard(self, status, err):
        """What the guard says of it, whether there was something to let go of already or not."""
        self.assertEqual(status, 1)
        self.assertRegex(err, r"^afterset: the ride died \(signal 9\): (its guard has released the "
                              r"load and stopped the bike|nothing was on the brake|nothing but your hand "
                              r"takes the load off, ease the knob); ride \d+ is saved up to its "
                              r"last second, the next start recovers it\n?$")

    def connect_once_free(self, path):
        """The bike refuses a second central until it has seen that the first one is gone."""
        for _ in range(100):
            client = Client(path)
            self.addCleanup(client.close)
            try:
                return client, client.services()[FITNESS_MACHINE]
            except ConnectionError:
                time.sleep(0.05)
        self.fail("the bike never became free")

    def test_bike_lets_go(self):
        """The bike itself takes the load away when the link closes: seen by another client."""
        path = self.home / "bike"
        self.start_bike(path, "--rate", 20)
        ride = self.start_program("ride", self.short, "--jsonl", "--bike", f"unix:{path}",
                                  "--rate", 20)
        ride.wait_for(lambda event: event["event"] == "telemetry" and
                      event["power_w"] > (190 if self.machine is None else 150))
        ride.kill()
        client, service = self.connect_once_free(path)
        found = client.characteristics(*service)
        self.assertEqual(client.read(found[TRAINING_STATUS][0])[1], 1, "not idle")
        data = found[BIKE_DATA][0]
        client.subscribe(data, 1)
        # The brake's lag is under a second: after 5 s only the knob is left, far below the load.
        for _ in range(20):
            value = client.wait_told(data)
        self.assertLess(bike_power_w(value, 1 if self.machine == "level" else 2), 100)
        client.close()
        # And the next rider gets load again.
        ride = self.start_program("ride", self.short, "--jsonl", "--bike", f"unix:{path}",
                                  "--rate", 20)
        self.wait_working(ride)
        ride.wait_for(lambda event: event["event"] == "telemetry" and event["power_w"] > 150)
        ride.kill()

ON_BOTH = ("test_killed_again_and_again", "test_unfinished_until_the_next_start",
           "test_virtual_bike_apart")
globals().update(on_machines(Killed, *ON_BOTH, machines=("no-control",)))
globals().update(on_machines(Killed, *ON_BOTH, "test_bike_lets_go", machines=("level",)))


if __name__ == "__main__":
    main()
