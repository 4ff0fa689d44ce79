#!/usr/bin/env python3
"""Everything a profile can say, ridden: ramps, steps that end before their time, shares of the last
block, steps off the bike. And what the program says of profiles that are unwise or faulty."""
import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import ASAN, Journey, main, on_machines, unwrapped
from sums import check_lines, check_stored, check_summary, power_range

HEAD = "title Invented\nlength 3:00..7:00\n"
WHOLE = HEAD + """floor 3 x 2110  cue Squats
floor 0:10  cue Mount
warm-up 1:00  power 80..100 to 140..160 W
rounds 2
  work 1:00 until 9 kJ  power 200..220 W  effort hard  cue A little more
  rest 1:00 until 118 bpm  power 60..80 W
end
cool-down 2:00 until 400 m  power 100..120 to 60..80 W
"""


class ProfileLanguage(Journey):
    def ride(self, text, *arguments, **options):
        path = self.write("whole.profile", text)
        done = self.run_program("ride", path, "--rate", 10000, "--jsonl", *arguments, **options)
        self.assert_ends(done, 0)
        lines = done.json()
        check_lines(self, lines)
        check_summary(self, lines)
        check_stored(self, self.show(lines[0]["ride_id"]), lines[-1])
        return lines

    def steps(self, lines):
        """Each step with its lines, and when it was over."""
        starts = [i for i, line in enumerate(lines) if line["event"] == "step"]
        for start, end in zip(starts, starts[1:] + [len(lines) - 1]):
            yield lines[start], lines[start:end], lines[end]["t_ms"] - lines[start]["t_ms"]

    def loads(self, lines):
        return [line for line in lines if line["event"] == "load"]

    # ---- riding ----

    def test_all_of_it(self):
        lines = self.ride(WHOLE)
        self.assertEqual((lines[-1]["end"], lines[-1]["reason"]), ("done", "plan_done"))
        self.assertEqual([line["kind"] for line in lines if line["event"] == "step"],
                         ["floor", "floor", "warm-up", "work", "rest", "work", "rest",
                          "cool-down"])
        self.assertEqual([line for line in lines if line["event"] in ("hold", "cut_off")], [])
        for step, during, lasted_ms in self.steps(lines):
            with self.subTest(step["index"]):
                getattr(self, "check_" + step["kind"].replace("-", "_"))(step, during, lasted_ms)

    def check_floor(self, step, during, lasted_ms):
        self.assertEqual(self.loads(during), [])
        self.assertEqual([line for line in during if line["event"] == "telemetry"], [])
        if step["reps"] is not None:
            self.assertEqual((step["reps"], step["tempo"]), (3, 2110))
            self.assertEqual(lasted_ms, 12000)

    def check_warm_up(self, step, during, lasted_ms):
        self.assertEqual(lasted_ms, 60000)
        self.check_ramp(step, during)

    def check_ramp(self, step, during):
        """Once the brake has caught up, each load is the middle of what its second asks for."""
        loads = self.loads(during)
        if self.machine is not None:
            self.check_power(step, during)
            return
        for load in loads:
            at_s = (load["t_ms"] - step["t_ms"]) // 1000
            if at_s >= 5 and load["kind"] == "power":
                self.assertEqual(load["power_w"], sum(power_range(step, at_s)) // 2)
        self.assertGreater(len(loads), 15)
        self.assertLessEqual(len(loads), step["duration_s"] + 5)

    def check_power(self, step, during):
        """Of the power in the last ten seconds, where it is made by levels or by hand. Between two
        numbers of this knob are some 56 W, and nobody is told to turn it for less than three
        quarters of that."""
        end_ms = during[-1]["t_ms"]
        powers = [line["power_w"] for line in during
                  if line["event"] == "telemetry" and line["t_ms"] > end_ms - 10000]
        asked_w = sum(power_range(step, (end_ms - step["t_ms"]) // 1000 - 5)) / 2
        self.assertAlmostEqual(sum(powers) / len(powers), asked_w,
                               delta=15 if self.machine == "level" else 42)

    def check_work(self, step, during, lasted_ms):
        """9 kJ at the 210 W that are asked for take 43 s, a bit more while the brake rises."""
        self.assertEqual((step["until"], step["until_value"], step["cue"]),
                         ("work", 9000, "A little more"))
        self.assertEqual((step["effort_low"], step["effort_high"]), (5, 7))
        self.assertTrue(40000 <= lasted_ms <= 50000, lasted_ms)

    def check_rest(self, step, during, lasted_ms):
        """Over three seconds after the heart is low enough, or when its time is over."""
        self.assertEqual((step["until"], step["until_value"]), ("heart", 118))
        hearts = [(line["t_ms"] - step["t_ms"], line["heart_bpm"]) for line in during
                  if line["event"] == "telemetry" and line["heart_bpm"] is not None]
        self.assertLessEqual(lasted_ms, 60000)
        if lasted_ms < 60000:
            self.assertLessEqual(min(bpm for t_ms, bpm in hearts if t_ms <= lasted_ms - 3000), 118)
        else:
            self.assertGreater(min(bpm for t_ms, bpm in hearts if t_ms < 55000), 116)

    def check_cool_down(self, step, during, lasted_ms):
        far = [line["distance_m"] for line in during if line["event"] == "telemetry"]
        self.assertAlmostEqual(far[-1] - far[0], 400, delta=60)
        self.assertLess(lasted_ms, 120000)
        self.check_ramp(step, during)

    def test_the_journal_gives_the_same_ride(self):
        lines = self.ride(WHOLE, program=ASAN)
        journal = self.write("journal", self.journal(lines[0]["ride_id"]))
        self.assertIn("\ncue Squats\n", journal.read_text())
        self.assert_ends(self.run_program("replay", journal), 0)

    def test_a_heart_that_stays_up_has_the_longest_time(self):
        text = HEAD + ("warm-up 0:30 power 80..100 W\nwork 1:20 power 140..160 W\n"
                       "rest 2:00 until 60 bpm power 60..80 W\ncool-down 0:30 power 50..60 W\n")
        lines = self.ride(text)
        rest = next(found for found in self.steps(lines) if found[0]["kind"] == "rest")
        self.assertEqual(rest[2], 120000)

    # ---- the mark ----

    def test_a_little_more_than_last_time(self):
        text = HEAD + ("warm-up 0:10 power 80..100 W\nrounds fit\n  work 0:40 power 101..111 %mark\n"
                       "  rest 0:20 power 40..50 %cp\nend\ncool-down 0:10 power 50..60 W\n")
        first = self.ride(text)
        self.assertRegex(first[0]["fit"], "5 rounds, no mark yet: its shares are of critical power")
        work = [line for line in first if line["event"] == "step" and line["kind"] == "work"]
        self.assertEqual((work[0]["power_low_w"], work[0]["power_high_w"]), (202, 222))
        mark_w = first[-1]["work_power_w"]
        second = self.ride(text)
        self.assertRegex(second[0]["fit"], f"5 rounds, mark {mark_w} W")
        work = [line for line in second if line["event"] == "step" and line["kind"] == "work"]
        self.assertAlmostEqual(work[0]["power_low_w"], 1.01 * mark_w, delta=0.5)
        self.assertAlmostEqual(work[0]["power_high_w"], 1.11 * mark_w, delta=0.5)

    # ---- lines for eyes and ears ----

    def test_plain_lines_say_it_all(self):
        done = self.run_program("ride", self.write("whole.profile", WHOLE), "--rate", 10000,
                                "--plain")
        self.assert_ends(done, 0)
        for words in ("Before it: 0:22 off the bike.", "floor for 0:12, 3 x 2110; then floor 0:10",
                      "\nSquats\n", "repetition 2 of 3: hold below 1 of 1 s",
                      "warm-up for 1:00, 80..100 to 140..160 W;",
                      "work 1 of 2 for 1:00 at most, until 9.0 kJ, 200..220 W, effort 5..7 of 10;",
                      "\nA little more\n", " kJ left: ", ", until 118 bpm: ", " m left: "):
            self.assertIn(words, done.out)
        wide = [line for line in done.out.splitlines() if len(line) > 80 and " for " in line]
        self.assertEqual(wide, [])

    # ---- check ----

    def check(self, text):
        path = self.write("a.profile", text)
        done = self.run_program("check", path)
        return done.status, unwrapped(done.out).replace(str(path), "F"), done.err.replace(str(path), "F")

    def test_what_is_unwise_is_said_and_passes(self):
        status, out, err = self.check(HEAD + "rest 0:30\nwork 5:00\n")
        self.assertEqual((status, err), (0, ""))
        self.assertEqual(out.splitlines()[1:], [
            "F:4: unwise: work with no warm-up before it",
            "F:4: unwise: no cool-down to ride out in",
            "F:2: unwise: it cannot be made 4:00 or shorter, so a new rider may not ride it"])
        self.assertEqual(self.check(WHOLE)[1].count("\n"), 1)

    def test_a_fault_has_its_place(self):
        self.assertEqual(self.check(HEAD + "work 4:00 until 12 kcal\n"),
                         (1, "", "F:3:20: expected kJ, m or bpm, found 'kcal'\n"))

globals().update(on_machines(ProfileLanguage, "test_all_of_it"))


if __name__ == "__main__":
    main()
