#!/usr/bin/env python3
"""Every verdict on a ride, worked out again by hand from what `show` prints, with formulas written
down here: Student's distribution by quadrature, the typical error by Hopkins 2000 (Sports Med
30:1), critical power by ordinary least squares."""
import math
import pathlib
import re
import statistics
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import Journey, main, on_machines

NUMBER = r"(-?\d+\.\d+)"
RECKONED = re.compile(
    rf"Reckoned from {NUMBER} kJ against {NUMBER} kJ, (?:ride (?P<one>\d+)|the mean of rides "
    rf"(?P<mean>[^;]+)); typical error (?P<error>{NUMBER}) %, (?:the usual one \(normal\)|yours, "
    rf"from (?P<blocks>\d+) blocks since ride (?P<since>\d+) \(t, (?P<freedom>\d+) df\)); error of "
    rf"the change (?P<change>{NUMBER}) %\.")
VERDICT = re.compile(
    r"(?:(?P<what>Better|Lower) than the (?P<n>\d+|one) before by (?P<by>\d+\.\d) %, with "
    r"(?P<sure>\d+) % certainty|(?P<noise>[+-]\d+\.\d) % on the (?P<m>\d+|one) before is within the "
    r"noise \((?P<for>\d+) % for better\))\.")


def student(t, freedom):
    """The chance of less than t, by Simpson's rule."""
    scale = math.gamma((freedom + 1) / 2) / (math.gamma(freedom / 2) * math.sqrt(freedom * math.pi))

    def density(x):
        return scale * (1 + x * x / freedom) ** (-(freedom + 1) / 2)

    steps, width = 2000, t / 2000
    total = density(0) + density(t) + sum((4 if i % 2 else 2) * density(i * width)
                                          for i in range(1, steps))
    return 0.5 + total * width / 3


def freedom_of(blocks):
    """Satterthwaite for changes that share a block: by the traces of M R and (M R)^2, written out
    for m changes with a correlation of -1/2 between neighbours."""
    m = blocks - 1
    r = [[1 if i == j else -0.5 if abs(i - j) == 1 else 0 for j in range(m)] for i in range(m)]
    c = [[(i == j) - 1 / m for j in range(m)] for i in range(m)]
    product = [[sum(c[i][k] * r[k][j] for k in range(m)) for j in range(m)] for i in range(m)]
    trace = sum(product[i][i] for i in range(m))
    squares = sum(product[i][k] * product[k][i] for i in range(m) for k in range(m))
    return int(trace * trace / squares + 1e-9)


class Verdict(Journey):
    def ride(self, *arguments, profile=None):
        done = self.run_program("ride", profile or self.short, "--rate", 10000, *arguments)
        self.assert_ends(done, 0)

    def text(self, number):
        done = self.run_program("show", number)
        self.assert_ends(done, 0)
        lines = done.out.splitlines()
        self.assertTrue(all(len(line) <= 80 for line in lines), done.out)
        return " ".join(" ".join(lines).split())

    def check(self, number, comparable):
        """`comparable`: the rides of that kind before it. Gives what the verdict is."""
        text = self.text(number)
        if len(comparable) < 3:
            self.assertIn("Too early to compare: ", text)
            self.assertNotIn("kJ against", text)
            return "early"
        reckoned, verdict = RECKONED.search(text), VERDICT.search(text)
        self.assertTrue(reckoned and verdict, text)
        works = {ride: self.show(ride)["work_j"] / 1000 for ride in comparable + [number]}
        # From which rides, and their mean.
        usable = comparable[2:]
        against = usable[-3:]
        parts = [int(reckoned["one"])] if reckoned["one"] else \
            [int(ride) for ride in re.findall(r"(\d+) \(", reckoned["mean"])]
        self.assertEqual(parts, against)
        now, mean = float(reckoned[1]), float(reckoned[2])
        self.assertAlmostEqual(now, works[number], places=3)
        self.assertAlmostEqual(mean, statistics.mean(works[ride] for ride in against), delta=6e-4)
        # The typical error, and that of the change.
        error = float(reckoned["error"])
        if len(usable) < 5:
            self.assertIsNone(reckoned["since"])
            self.assertEqual(error, 3.0)
        else:
            self.assertEqual((int(reckoned["blocks"]), int(reckoned["since"])),
                             (len(usable), usable[0]))
            changes = [100 * (works[b] / works[a] - 1) for a, b in zip(usable, usable[1:])]
            self.assertAlmostEqual(error, max(0.9, statistics.stdev(changes) / math.sqrt(2)),
                                   delta=0.006)
            self.assertEqual(int(reckoned["freedom"]), freedom_of(len(usable)))
        of_change = error * math.sqrt(1 + 1 / len(against))
        self.assertAlmostEqual(float(reckoned["change"]), of_change, delta=0.012)
        # The sentence.
        change = 100 * (now - mean) / mean
        ratio = change / of_change
        better = 100 * (student(ratio, int(reckoned["freedom"])) if reckoned["since"] else
                        statistics.NormalDist().cdf(ratio))
        self.assertEqual(int((verdict["n"] or verdict["m"]).replace("one", "1")), len(against))
        if verdict["noise"]:
            self.assertAlmostEqual(float(verdict["noise"]), change, delta=0.06)
            self.assertAlmostEqual(int(verdict["for"]), better, delta=0.8)
            self.assertTrue(4.5 < better < 95.5, text)
            return "noise"
        is_better = verdict["what"] == "Better"
        self.assertAlmostEqual(float(verdict["by"]), abs(change), delta=0.06)
        self.assertEqual(change > 0, is_better)
        self.assertAlmostEqual(int(verdict["sure"]), better if is_better else 100 - better,
                               delta=0.8)
        self.assertGreater(int(verdict["sure"]), 94)
        return verdict["what"]

    def test_by_hand(self):
        """Tired ones and fresh ones in turn, which never stand beside each other."""
        loads = (0, 0, 0, 1, -2, 9, 2, -12, 0, 20, 1, -9)
        seen, kinds = [], {"legs": [], "fresh": []}
        for number, load in enumerate(loads, 1):
            kind = "fresh" if number % 4 == 0 else "legs"
            self.ride("--after", kind, "--load", f"{load:+}", "--seed", number)
            seen.append(self.check(number, kinds[kind]))
            kinds[kind].append(number)
        self.assertEqual(seen[:3], ["early"] * 3)
        self.assertIn("noise", seen)
        self.assertTrue({"Better", "Lower"} & set(seen), seen)
        # What was said of a ride when it ended is still said of it.
        self.assertEqual(self.check(7, [1, 2, 3, 5, 6]), seen[6])

    # ---- critical power out of one's own ----

    def best_j(self, numbers, seconds):
        """The most work over so long, from sample to sample."""
        best = 0.0
        for number in numbers:
            samples = [tuple(map(int, found)) for found in re.findall(
                r"^> (\d+) data .*?\bpower_w=(\d+)", self.journal(number), re.M)]
            self.assertGreater(len(samples), 100)
            done, total = {}, 0.0
            for (t0, p0), (t1, p1) in zip(samples, samples[1:]):
                total += (p0 + p1) / 2 * (t1 - t0) / 1000
                done[t1] = total
            times = sorted(done)
            for t_ms in times:
                earlier = [t for t in (t_ms - seconds * 1000,) if t in done]
                if earlier:
                    best = max(best, done[t_ms] - done[earlier[0]])
        return best

    def rider(self):
        done = self.run_program("rider")
        self.assert_ends(done, 0)
        self.assertTrue(all(len(line) <= 80 for line in done.out.splitlines()), done.out)
        return " ".join(done.out.split())

    def test_critical_power_of_each_kind(self):
        def steady(length, watts):
            return self.write(f"steady{watts}.profile", f"title Steady\nlength 3:00..7:00\n"
                              f"work {length} power {watts - 10}..{watts + 10} W\n")
        too_little = "too little to fit; it takes rides with hard efforts of 2, 3 and 4 min."
        self.assertNotIn("your own best efforts, an", self.rider())
        self.ride("--after", "fresh", profile=steady("3:00", 230))
        text = self.rider()
        self.assertIn(f"After leg work: {too_little}", text)
        self.assertIn(f"Fresh: {too_little}", text)
        for length, watts in (("3:00", 260), ("5:00", 235), ("7:00", 224)):
            self.ride("--after", "legs", profile=steady(length, watts))
        text = self.rider()
        self.assertIn(f"Fresh: {too_little}", text)
        found = re.search(rf"After leg work: the best of 3 rides over 120 to 420 s come to (\d+) W "
                          rf"\(\+- (\d+)\) and {NUMBER} kJ \(\+- {NUMBER}\)", text)
        self.assertTrue(found, text)
        times = (120, 180, 240, 300, 360, 420)
        works = [self.best_j((2, 3, 4), seconds) for seconds in times]
        slope, start = statistics.linear_regression(times, works)
        rest = sum((w - slope * t - start) ** 2 for t, w in zip(times, works)) / (len(times) - 2)
        spread = sum((t - statistics.mean(times)) ** 2 for t in times)
        slope_error = math.sqrt(rest / spread)
        start_error = slope_error * math.sqrt(sum(t * t for t in times) / len(times))
        self.assertAlmostEqual(int(found[1]), slope, delta=2)
        self.assertAlmostEqual(int(found[2]), slope_error, delta=1.5)
        self.assertAlmostEqual(float(found[3]), start / 1000, delta=0.4)
        self.assertAlmostEqual(float(found[4]), start_error / 1000, delta=0.4)
        found = re.search(rf"Two other ways of fitting them give (\d+) W and {NUMBER} kJ, (\d+) W and "
                          rf"{NUMBER} kJ\.", text)
        self.assertTrue(found, text)
        slope, start = statistics.linear_regression([1 / t for t in times],
                                                    [w / t for w, t in zip(works, times)])
        self.assertAlmostEqual(int(found[1]), start, delta=2)
        self.assertAlmostEqual(float(found[2]), slope / 1000, delta=0.4)

globals().update(on_machines(Verdict, "test_by_hand"))


if __name__ == "__main__":
    main()
