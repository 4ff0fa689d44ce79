#!/usr/bin/env python3
"""A bike that takes nothing but a level, and a strap on USB: every profile shipped is ridden there
with the command that a trainer takes which holds watts, through the same steps to the same end."""
# Takes minutes, most of them waiting.
import concurrent.futures
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
import receiver
from journey import MACHINES, SHIPPED, Journey, main, real_time
from sums import check_lines

RATE = 24
AT_ONCE = 4
KEY = bytes.fromhex("00C0FFEEC0FFEE99")  # invented
NUMBER, BPM = 4711, 141
SETTLED_MS = 3000
# Levels are coarse where ranges are narrow, and nobody has ridden this brake: 0.70 to 0.94 were seen.
LEAST_OF_HELD = 0.6
# Work of a few seconds is over before its level has taught anything: 0.33 was seen.
LEAST_OF_BRIEF, BRIEF_S = 0.25, 7


def kinds(lines, kind):
    return [line for line in lines if line["event"] == kind]


def course(lines):
    """The steps, and the time from each to the next."""
    steps = kinds(lines, "step")
    lasting_s = [(end["t_ms"] - begin["t_ms"]) / 1000 for begin, end in zip(steps, steps[1:])]
    return [(step["kind"], step["power_low_w"], step["power_high_w"]) for step in steps], lasting_s


def share_in_range(lines):
    """Of the readings in work steps, once the load has settled."""
    within, step = [], None
    for line in lines:
        if line["event"] == "step":
            step = line if line["kind"] == "work" else None
        elif line["event"] == "telemetry" and step and line["t_ms"] > step["t_ms"] + SETTLED_MS:
            within.append(step["power_low_w"] <= line["power_w"] <= step["power_high_w"])
    return sum(within) / len(within)


@real_time
class LevelBikeAndUsbStrap(Journey):
    def ride(self, profile):
        """In a home of its own, as there is one ride at a time in each."""
        home = self.home / profile.stem
        home.mkdir()
        device = receiver.Receiver(home / "receiver", KEY, [receiver.strap(NUMBER, BPM)], RATE)
        self.addCleanup(device.finish)
        self.start_bike(home / "bike", "--rate", RATE, "--machine", MACHINES / "level.machine")
        return self.run_program("ride", profile, "--rate", RATE, "--jsonl", "--bike",
                                f"unix:{home / 'bike'}", "--strap", f"usb@{home / 'receiver'}",
                                env=dict(self.env, XDG_DATA_HOME=str(home)))

    def check(self, profile, done):
        self.assert_ends(done, 0)
        lines = done.json()
        check_lines(self, lines)
        self.assertEqual((lines[-1]["end"], lines[-1]["reason"]), ("done", "plan_done"))
        told = [line for line in kinds(lines, "telemetry") if line["t_ms"] > 20000]
        self.assertEqual({line["heart_bpm"] for line in told}, {BPM})
        self.assertEqual({line["kind"] for line in kinds(lines, "load")}, {"level", "released"})
        self.assertFalse(kinds(lines, "hold"))
        held = self.run_program("ride", profile, "--unrecorded", "--rate", 10000, "--jsonl",
                                "--machine", MACHINES / "power.machine").json()
        (steps, lasting_s), (steps_held, lasting_held_s) = course(lines), course(held)
        self.assertEqual(steps, steps_held)
        for lasted_s, lasted_held_s in zip(lasting_s, lasting_held_s):
            self.assertAlmostEqual(lasted_s, lasted_held_s, delta=1)
        worked_s = [lasted_s for (kind, *_), lasted_s in zip(steps, lasting_s) if kind == "work"]
        self.assertGreater(share_in_range(lines),
                           (LEAST_OF_BRIEF if min(worked_s) < BRIEF_S else LEAST_OF_HELD) * share_in_range(held))

    def test_every_profile(self):
        self.settings_file.write_text(f"experienced yes\nusb-network-key {KEY.hex()}\n")
        with concurrent.futures.ThreadPoolExecutor(AT_ONCE) as pool:
            for profile, done in zip(SHIPPED, pool.map(self.ride, SHIPPED)):
                with self.subTest(profile.stem):
                    self.check(profile, done)


if __name__ == "__main__":
    main()
