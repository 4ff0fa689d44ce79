#!/usr/bin/env python3
"""A bike that takes levels and no power: the plan's watts are held all the same, and what its
levels cost is remembered. The bike is in a process of its own."""
import pathlib
import sqlite3
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import MACHINES, Journey, main, real_time
from sums import check_lines

RATE = 20


@real_time
class Levels(Journey):
    def setUp(self):
        super().setUp()
        self.bike_path = self.home / "bike"

    def ride(self):
        bike = self.start_bike(self.bike_path, "--rate", RATE, "--machine",
                               MACHINES / "level.machine")
        done = self.run_program("ride", self.short, "--jsonl", "--bike", f"unix:{self.bike_path}",
                                "--rate", RATE)
        bike.abandon()
        self.assert_ends(done, 0)
        lines = done.json()
        check_lines(self, lines)
        return lines

    def curves(self):
        store = sqlite3.connect(self.database)
        try:
            return store.execute("SELECT * FROM brake").fetchall()
        finally:
            store.close()

    def watts_in_work(self, lines, number):
        """Mean of the telemetry in the last ten seconds of work step `number`."""
        steps = [line for line in lines if line["event"] == "step"]
        works = [i for i, line in enumerate(steps) if line["kind"] == "work"]
        end_ms = steps[works[number] + 1]["t_ms"]
        powers = [line["power_w"] for line in lines if line["event"] == "telemetry"
                  and end_ms - 10000 < line["t_ms"] <= end_ms]
        return sum(powers) / len(powers), steps[works[number]]

    def test_watts_are_held_and_the_brake_remembered(self):
        first = self.ride()
        loads = [line for line in first if line["event"] == "load"]
        self.assertEqual({line["kind"] for line in loads}, {"level", "released"})
        self.assertEqual(loads[-1]["kind"], "released")
        (kept,) = self.curves()
        self.assertEqual(kept[0], f"unix:{self.bike_path}")
        second = self.ride()
        self.assertEqual(len(self.curves()), 1)
        # From the first work step on, since the brake is known: within a tenth of the middle.
        watts, step = self.watts_in_work(second, 0)
        middle = (step["power_low_w"] + step["power_high_w"]) / 2
        self.assertAlmostEqual(watts / middle, 1, delta=0.1)
        self.assertEqual(self.run_program("replay", self.write("first", self.journal(1))).status, 0)
        self.assertEqual(self.run_program("replay", self.write("second", self.journal(2))).status,
                         0)


if __name__ == "__main__":
    main()
