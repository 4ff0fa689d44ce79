#!/usr/bin/env python3
"""The earlier block that runs beside this one: second by second, in every measure, over other
lengths, to the joule at the end, and whatever breaks the ride off.

All is worked out again from the samples in the journals and from the telemetry lines: straight
lines between samples, 4.184 kJ a kilocalorie and 20 % efficiency (README.md)."""
import math
import pathlib
import re
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import ASAN, RELEASE, Journey, main, on_machines
from sums import Sums

TYPICAL_ERROR = 0.03  # before the rider's own is known
CRITICAL_POWER_W = 200  # of the virtual bike
MEASURES = ("work", "power", "distance", "time", "calories")


def work_at(lines):
    """What was done at each time of the block clock at which something was told: [(ms, J)].

    The block of these rides is never held, so its clock runs with the ride's from the start."""
    begun = next(line["t_ms"] for line in lines if line.get("phase") == "riding")
    done, points, last = 0.0, [(0, 0.0)], None
    for line in lines:
        if line["event"] != "telemetry" or line["power_w"] is None:
            continue
        if last is not None and line["t_ms"] - last[0] <= 3000:
            done += (line["power_w"] + last[1]) / 2 * (line["t_ms"] - last[0]) / 1000
        last = (line["t_ms"], line["power_w"])
        points.append((line["t_ms"] - begun, done))
    return points


def at(points, ms):
    """Of a sum: what it was last."""
    return [done for t_ms, done in points if t_ms <= ms][-1]


def kept_at(points, ms, late_ms):
    """The mark is kept second by second, and straight between; a sample is a quarter of one."""
    second = ms // 1000 * 1000
    before, after = (at(points, edge + late_ms) for edge in (second, second + 1000))
    return before + (after - before) * (ms - second) / 1000


def error_with(left_j, all_j):
    """Of the finish, with so much of the work still to do."""
    return TYPICAL_ERROR * math.sqrt(2 * left_j / all_j) * all_j


class Mark(Journey):
    def assert_between(self, least, value, most, what):
        """Both rounded to whole joules."""
        self.assertGreaterEqual(value, least - 1, what)
        self.assertLessEqual(value, most + 1, what)

    def ride(self, *arguments, seed=1, program=RELEASE):
        done = self.run_program("ride", self.short, "--jsonl", "--rate", 10000, "--seed", seed,
                                *arguments, program=program)
        self.assert_ends(done, 0)
        return done.json()

    def marks(self, lines):
        found = [line for line in lines if line["event"] == "mark"]
        self.assertGreater(len(found), 15)
        return found

    # ---- at the end ----

    def test_every_measure_agrees_with_the_sums(self):
        first = self.ride()
        before = self.show(1)
        for number, measure in enumerate(MEASURES, 2):
            lines = self.ride("--beat", measure, "--after", "legs", seed=number)
            last, now = self.marks(lines)[-1], self.show(number)
            self.assertEqual(last["measure"], measure)
            ms = last["block_ms"]
            self.assertAlmostEqual(now["work_j"], Sums(lines).work_j, delta=1)
            expected = {
                "work": now["work_j"] - before["work_j"],
                "power": (now["work_j"] * 1e6 / ms) -
                         (before["work_j"] * 1e6 / self.marks_ms(first, before)),
                "distance": now["distance_m"] - before["distance_m"],
                "calories": (now["work_j"] - before["work_j"]) / 4.184 / 0.2,
            }
            if measure == "time":
                self.assertEqual(last["ahead"] > 0, now["work_j"] > before["work_j"])
            else:
                slack = {"work": 0, "power": 150, "distance": 0, "calories": 1}[measure]
                self.assertAlmostEqual(last["ahead"], expected[measure], delta=slack)
            before = now
            first = lines

    def marks_ms(self, lines, ride):
        begun = next(line["t_ms"] for line in lines if line.get("phase") == "riding")
        ended = next(line["t_ms"] for line in lines if line.get("phase") in ("leaving", "ended"))
        self.assertAlmostEqual((ended - begun) / 1000, ride["duration_s"], delta=0.5)
        return ended - begun

    # ---- on the way ----

    def test_second_by_second_and_at_last(self):
        first = work_at(self.ride())
        second = self.ride("--beat", "work", seed=2, program=ASAN)
        points, marks = work_at(second), self.marks(second)
        end = first[-1][1]
        for mark in marks[:-1]:
            self.assertEqual(mark["block_ms"] % 10000 // 1000, 0, mark)
            now = at(points, mark["block_ms"])
            least, most = (kept_at(first, mark["block_ms"], late_ms) for late_ms in (-250, 250))
            self.assert_between(now - most, mark["ahead"], now - least, mark)
            self.assertAlmostEqual(mark["finish"], end + mark["ahead"], delta=1)
            # Near the end, where the root is steep, a few joules there are as many here.
            self.assert_between(error_with(end - most, end), mark["finish_error"],
                                error_with(end - least, end), mark)
            self.assertEqual(mark["beaten"], now > end)
        self.assertEqual(marks[-1]["ahead"], self.show(2)["work_j"] - self.show(1)["work_j"])
        self.assertEqual(marks[-1]["finish_error"], 0)

    def test_in_words(self):
        self.ride()
        done = self.run_program("ride", self.short, "--rate", 10000, "--load", "+10",
                                "--beat", "work")
        self.assert_ends(done, 0)
        told = re.findall(r"(?m)^Mark: (\S+) kJ (ahead of|behind) the mark(, which is beaten|), "
                          r"(\S+) kJ \+- (\S+) at the end\.$", done.out)
        self.assertGreater(len(told), 15)
        errors = [float(error) for *_, error in told]
        self.assertEqual(errors, sorted(errors, reverse=True))
        self.assertEqual(done.out.count("\nThe mark is beaten.\n"), 1)
        work = [self.show(number)["work_j"] / 1000 for number in (1, 2)]
        self.assertIn(f"\n{work[1] - work[0]:.1f} kJ ahead of the mark.\n", done.out)
        self.assertTrue(all(len(line) <= 80 for line in done.out.splitlines()
                            if line.startswith(("Mark", "Reserve"))))

    # ---- over other lengths ----

    def test_other_lengths_agree_with_the_verdict(self):
        """What stands beside it at the end is what the verdict reckons with."""
        for seed in (1, 2, 3):
            self.ride(seed=seed)
        before = self.show(3)
        for number, length, seconds in ((4, "3:45", 225), (5, "6:00", 360)):
            lines = self.ride("--beat", "work", "--length", length, seed=number)
            shown = self.show(number)
            self.assertEqual(shown["length_s"], seconds)
            taken_j = before["work_j"] + CRITICAL_POWER_W * (seconds - before["length_s"])
            self.assertEqual(self.marks(lines)[-1]["ahead"], shown["work_j"] - taken_j)
            text = " ".join(self.run_program("show", number).out.split())
            self.assertIn(f"Reckoned from {shown['work_j'] / 1000:.3f} kJ against ", text)
            self.assertRegex(text, f"(ride {number - 1},| {number - 1} \\({taken_j / 1000:.3f}\\),) "
                                   f"{number - 3} taken to this length at {CRITICAL_POWER_W} W;")
            before = shown

    # ---- whatever happens ----

    def test_killed_in_mid_ride(self):
        first = work_at(self.ride())
        ride = self.start_program("ride", self.short, "--jsonl", "--beat", "work", "--rate", 200,
                                  "--seed", 2)
        ride.wait_for(lambda event: event["event"] == "mark" and event["block_ms"] >= 100000)
        lines = ride.kill().json()
        told = [line for line in lines if line["event"] == "mark"]
        # The next ride recovers it, and runs beside the same one: the broken one is none.
        done = self.run_program("ride", self.short, "--jsonl", "--beat", "work", "--rate", 10000,
                                "--seed", 2)
        self.assert_ends(done, 0, "ride 2 was broken off; 1:[0-9][0-9] of it is recovered")
        again = [line for line in done.json() if line["event"] == "mark"]
        self.assertEqual([line["block_ms"] for line in told],
                         [line["block_ms"] for line in again][:len(told)])
        for line, other in zip(told, again):
            # The same seed: the same ride, and the same mark beside it.
            self.assertEqual((line["ahead"], line["finish"]), (other["ahead"], other["finish"]))
            self.assertAlmostEqual(line["finish"] - line["ahead"], first[-1][1], delta=1)
        # What is kept of the broken one says the same of where it stood, but for its last second.
        kept = self.show(2)["work_j"]
        self.assertGreaterEqual(kept + 1, at(work_at(lines), told[-2]["block_ms"]))
        replayed = self.run_program("replay", self.write("broken.journal", self.journal(2)))
        self.assertRegex(replayed.out, "all as recorded; it broke off in mid-ride\n$")

    def test_nothing_to_beat(self):
        done = self.run_program("ride", self.short, "--rate", 10000, "--jsonl", "--beat", "work")
        self.assert_ends(done, 0, "--beat: there is no earlier block like this one to beat")
        self.assertEqual([line for line in done.json() if line["event"] == "mark"], [])
        done = self.run_program("ride", self.short, "--beat", "speed")
        self.assert_ends(done, 2, "--beat speed: it is work, power, distance, time or calories")

    # ---- the reserve beside it ----

    def test_the_reserve(self):
        """Its two models, reckoned again from the telemetry: Skiba et al. 2015 and 2012."""
        lines = self.ride()
        self.assertEqual((lines[0]["reserve_above_w"], lines[0]["reserve_of_j"]), (200, 15000))
        tau_s = 546 * math.exp(-0.01 * (200 - 90)) + 316  # rests of 80 to 100 W
        left, spent, last, told = 15000.0, 0.0, None, 0
        for line in lines:
            if line["event"] == "telemetry" and line["power_w"] is not None:
                if last is not None:
                    seconds = (line["t_ms"] - last[0]) / 1000
                    above = (line["power_w"] + last[1]) / 2 - 200
                    left = left - above * seconds if above >= 0 else \
                        15000 - (15000 - left) * math.exp(above * seconds / 15000)
                    kept = math.exp(-seconds / tau_s)
                    spent = spent * kept + max(above, 0) * tau_s * (1 - kept)
                last = (line["t_ms"], line["power_w"])
            elif line["event"] == "reserve":
                told += 1
                self.assertAlmostEqual(line["differential_pct"], left / 150, delta=1.01)
                self.assertAlmostEqual(line["integral_pct"], 100 - spent / 150, delta=1.01)
                missing = 100 - line["differential_pct"]
                self.assertAlmostEqual(line["error_points"],
                                       math.hypot(0.28 * missing, min(9, missing)), delta=0.51)
        self.assertGreater(told, 15)
        self.assertLess(left, 15000)

    def test_the_reserve_touches_no_load(self):
        """Empty by its own reckoning from the first minute on, or not known at all: the same."""
        def loads(*settings):
            self.settings_file.write_text("experienced yes\n" + "".join(
                setting + "\n" for setting in settings))
            lines = self.ride()
            return [(line["t_ms"], line["power_w"]) for line in lines if line["event"] == "load"], \
                [line for line in lines if line["event"] == "reserve"]
        plenty, _ = loads("critical-power 200", "w-prime 60")
        little, reserves = loads("critical-power 100", "w-prime 1")
        self.assertEqual(plenty, little)
        self.assertEqual(reserves[-1]["differential_pct"], 0)

globals().update(on_machines(Mark, "test_every_measure_agrees_with_the_sums",
                             "test_second_by_second_and_at_last", "test_in_words",
                             "test_killed_in_mid_ride"))


if __name__ == "__main__":
    main()
