#!/usr/bin/env python3
"""Rides taken elsewhere and back: FIT, CSV and JSON files, and blocks written down by hand."""
import csv
import datetime
import io
import json
import pathlib
import shutil
import sqlite3
import subprocess
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import ASAN, BUILD, DEADLINE_S, ROOT, Journey, about, is_kind, main

READER = ROOT / "tests" / "tools" / "fit_reader"
LONG = ROOT / "profiles" / "40-20x5.profile"


def fit_reader():
    """Where the library is installed, once for all; or a word on why it is not."""
    folder = BUILD / "fit_reader"
    if not shutil.which("npm") or not shutil.which("node"):
        return None, "npm is not installed"
    wanted = (READER / "package.json").read_text()
    if not (folder / "installed").exists() or (folder / "installed").read_text() != wanted:
        folder.mkdir(exist_ok=True)
        shutil.copy(READER / "package.json", folder)
        done = subprocess.run(
            ["npm", "install", "--no-package-lock", "--ignore-scripts", "--no-audit", "--no-fund"],
            cwd=folder, capture_output=True, text=True, timeout=4 * DEADLINE_S, check=False)
        if done.returncode != 0:
            lines = done.stderr.strip().splitlines()
            return None, "npm cannot install: " + (lines[0] if lines else "no word why")
        (folder / "installed").write_text(wanted)
    shutil.copy(READER / "read.mjs", folder)
    return folder, ""


class Elsewhere(Journey):
    def ride(self, *arguments, profile=None):
        done = self.run_program("ride", profile or self.short, "--rate", 10000, *arguments)
        self.assertEqual(done.status, 0, done.err)

    def export(self, *arguments, **more):
        done = self.run_program("export", *arguments, program=ASAN, **more)
        self.assert_ends(done, 0)
        return done.out

    def at_home(self, name):
        """The environment of another home, in which there are no rides."""
        return dict(self.env, XDG_DATA_HOME=str(self.home / name))

    # ---- FIT ----

    def read_fit(self, path):
        folder, why = fit_reader()
        if folder is None:
            raise unittest.SkipTest(f"FIT files are not read by the library: {why}")
        done = subprocess.run(["node", str(folder / "read.mjs"), str(path)], capture_output=True,
                              text=True, timeout=DEADLINE_S, check=True)
        return json.loads(done.stdout)

    def test_fit_by_the_library(self):
        self.ride(profile=LONG)
        self.assert_ends(self.run_program("rate", 1, "--effort", 7), 0)
        path = self.home / "one.fit"
        self.export(1, "--as", "fit", "--out", path)
        fit, show = self.read_fit(path), self.show(1)
        (session,) = fit["sessions"]
        for ours, theirs in (("work_j", "total_work"), ("distance_m", "total_distance"),
                             ("average_power_w", "avg_power"), ("calories_kcal", "total_calories"),
                             ("average_heart_bpm", "avg_heart_rate"),
                             ("max_heart_bpm", "max_heart_rate")):
            with about(ours):
                self.assertEqual(session[theirs], show[ours])
        self.assertAlmostEqual(session["total_timer_time"], show["duration_s"], delta=0.5)
        self.assertEqual((session["sport"], session["sub_sport"]), ("cycling", "indoor_cycling"))
        self.assertEqual(session["workout_rpe"], 70)
        self.assertEqual(fit["activity"]["num_sessions"], 1)
        self.assertEqual(fit["file_ids"][0]["type"], "activity")
        # a lap a step: warm-up, five times work and rest, cool-down; they add up
        self.assertEqual([lap["intensity"] for lap in fit["laps"]],
                         ["warmup"] + 5 * ["active", "rest"] + ["cooldown"])
        self.assertEqual(sum(lap["total_work"] for lap in fit["laps"]), show["work_j"])
        self.assertEqual(sum(lap["total_distance"] for lap in fit["laps"]), show["distance_m"])
        self.assertEqual(session["num_laps"], len(fit["laps"]))
        # a record a second, the last of which has it all
        self.assertEqual(len(fit["records"]), show["duration_s"])
        stamps = [datetime.datetime.fromisoformat(record["timestamp"].replace("Z", "+00:00"))
                  for record in fit["records"]]
        self.assertTrue(all((b - a).total_seconds() == 1 for a, b in zip(stamps, stamps[1:])))
        self.assertEqual(fit["records"][-1]["distance"], show["distance_m"])
        self.assertAlmostEqual(sum(record["power"] for record in fit["records"]),
                               show["work_j"], delta=show["work_j"] / 50)
        began = stamps[0].timestamp() - show["started_unix_s"]
        self.assertTrue(3 <= began <= 10, f"the block began {began} s after the ride")

    def test_fit_by_gpsbabel(self):
        if not shutil.which("gpsbabel"):
            self.skipTest("FIT files are not read by gpsbabel: it is not installed")
        self.ride()
        path = self.home / "one.fit"
        self.export(1, "--as", "fit", "--out", path)
        done = subprocess.run(
            ["gpsbabel", "-t", "-i", "garmin_fit,allpoints=1", "-f", str(path),
             "-o", "unicsv", "-F", "-"], capture_output=True, text=True, check=True, timeout=60)
        theirs = list(csv.DictReader(io.StringIO(done.stdout)))
        ours = list(csv.DictReader(io.StringIO(self.export(1, "--as", "csv"))))
        self.assertEqual(len(theirs), len(ours))
        for name, key in (("Power", "power_w"), ("Cadence", "cadence_rpm"),
                          ("Heartrate", "heart_bpm")):
            with about(name):
                self.assertEqual([float(row[name]) for row in theirs],
                                 [float(row[key]) for row in ours])

    def test_fit_of_a_ride_that_was_stopped(self):
        ride = self.start_program("ride", self.short, "--rate", 50, "--jsonl")
        ride.wait_for(lambda event: event["event"] == "telemetry" and event["t_ms"] > 30000)
        ride.signal(2)
        ride.wait_for(is_kind("phase", phase="easy"))
        self.assertEqual(ride.finish().status, 0)
        path = self.home / "one.fit"
        self.export(1, "--as", "fit", "--out", path)
        fit, show = self.read_fit(path), self.show(1)
        self.assertEqual(sum(lap["total_work"] for lap in fit["laps"]), show["work_j"])
        self.assertEqual(fit["sessions"][0]["total_work"], show["work_j"])
        self.assertEqual([lap["intensity"] for lap in fit["laps"]], ["active", "cooldown"])

    # ---- CSV ----

    def test_csv(self):
        self.ride()
        rows = list(csv.DictReader(io.StringIO(self.export(1, "--as", "csv"))))
        show = self.show(1)
        self.assertEqual([int(row["second"]) for row in rows], list(range(len(rows))))
        self.assertEqual(int(rows[-1]["work_j"]), show["work_j"])
        self.assertEqual(int(rows[-1]["distance_m"]), show["distance_m"])
        steps = sorted({int(row["step"]) for row in rows})
        self.assertEqual(steps, list(range(1, 10)))  # four rounds of two, and a cool-down
        work = [row for row in rows if row["kind"] == "work"]
        self.assertEqual({(row["target_low_w"], row["target_high_w"]) for row in work},
                         {("200", "220")})
        documented = (ROOT / "README.md").read_text()
        for column in rows[0]:
            self.assertTrue(f"`{column}`" in documented, f"README.md says nothing of {column}")

    # ---- JSON ----

    def fill(self):
        """One of each: whole, rated, stopped by its rider, recovered, written down by hand."""
        self.ride()
        self.ride("--after", "fresh", "--feel", 2)
        self.assert_ends(self.run_program("rate", 2, "--effort", 0, "--note", "größer, \"so\""), 0)
        ride = self.start_program("ride", self.short, "--rate", 20, "--jsonl")
        ride.wait_for(lambda event: event["event"] == "telemetry" and event["t_ms"] > 20000)
        ride.kill()
        self.ride()  # recovers it
        self.assert_ends(self.run_program("add", "--date", "2026-01-02", "--length", "12:00",
                                          "--work", 120, "--note", "an invented one"), 0)
        self.assertEqual([ride["state"] for ride in self.run_program("log", "--jsonl").json()],
                         ["finished", "recovered", "finished", "finished", "by_hand"])

    def test_into_what_is_no_file(self):
        """A device or a pipe is written into, and is there afterwards."""
        self.ride()
        for command in (("export", 1, "--as", "csv"), ("report",)):
            self.assertEqual(self.run_program(*command, "--out", "/dev/stdout").out,
                             self.run_program(*command).out)

    def test_json_and_back(self):
        self.fill()
        there, again = self.home / "there", self.home / "again"
        self.export("--all", "--as", "json", "--out", there)
        files = sorted(there.iterdir())
        self.assertEqual(len(files), 5)
        other = self.at_home("other")
        self.assert_ends(self.run_program("import", *files, program=ASAN, env=other), 0)
        self.export("--all", "--as", "json", "--out", again, env=other)
        self.assertEqual(sorted(path.read_bytes() for path in again.iterdir()),
                         sorted(path.read_bytes() for path in files))
        # and it is what it was to every other command
        first, second = (self.run_program("log", "--jsonl", env=env).json()
                         for env in (self.env, other))
        for ride in first + second:
            del ride["ride_id"]
        self.assertEqual(first, second)
        # nor is one refused that was written before rides told who measured their power
        old = json.loads(files[0].read_text())
        for key in ("power_sensor", "sensor_pct", "difference_tenths", "difference_error_tenths"):
            del old["ride"][key]
        third = self.at_home("third")
        self.assert_ends(self.run_program("import", self.write("old.json", json.dumps(old)),
                                          env=third), 0)
        journals = {path.name: json.loads(path.read_text())["journal"] for path in files}
        journal = self.write("one.journal", journals["ride-1.json"])
        self.assert_ends(self.run_program("replay", journal), 0)
        self.assertEqual(journals["ride-1.json"], self.journal(1))

    def test_what_is_there_is_not_taken_twice(self):
        self.fill()
        there = self.home / "there"
        self.export("--all", "--as", "json", "--out", there)
        before = self.run_program("log", "--jsonl").out
        for path in sorted(there.iterdir()):
            self.assert_ends(self.run_program("import", path), 1,
                             f"{path.name}: it is there already, as ride {path.stem[5:]};")
        # nor twice in one go
        other = self.at_home("other")
        one = there / "ride-1.json"
        self.assert_ends(self.run_program("import", one, one, env=other), 1, "as ride 1;")
        self.assertEqual(self.run_program("log", "--jsonl", env=other).out, "")
        self.assertEqual(self.run_program("log", "--jsonl").out, before)

    def test_hostile_json(self):
        self.ride()
        text = self.export(1, "--as", "json")

        def changed(**values):
            whole = json.loads(text)
            for key, value in values.items():
                whole["ride"][key] = value
            return json.dumps(whole)

        def without(*keys):
            whole = json.loads(text)
            at = whole
            for key in keys[:-1]:
                at = at[key]
            del at[keys[-1]]
            return json.dumps(whole)

        cases = [
            ("{", ":1:1: no JSON"),
            (text[:-40], "no JSON"),
            (text + "x", "no JSON"),
            (text.replace('"version":1', '"version":1,"version":1'), "no JSON: duplicate"),
            ('{"a":' + 100000 * "[", "no JSON: maximum parsing depth"),
            ("{}", 'it has no "format"'),
            (text.replace("afterset-ride", "another"), 'it has no "format"'),
            (text.replace('"version":1', '"version":2'), "another version of the format than 1"),
            (text.replace('"version":1', '"version":"1"'), "another version"),
            (without("ride"), '"ride" is no object'),
            (without("ride", "work_j"), '"ride": "work_j" is missing'),
            (without("ride", "state"), '"ride": "state" is missing'),
            (without("journal"), '"journal" is not a text'),
            (changed(work_j=-1), '"work_j" is out of its range'),
            (changed(work_j=10**30), "no JSON: too big integer"),
            (changed(work_j=5e9), '"work_j" is not a whole number'),
            (changed(work_j="1"), '"work_j" is not a whole number'),
            (changed(average_power_w=32768), '"average_power_w" is out of its range'),
            (changed(feel=6), '"feel" is out of its range'),
            (changed(effort=11), '"effort" is out of its range'),
            (changed(power_sensor=7), '"power_sensor" is not a text'),
            (changed(power_sensor="\033[2J"), '"power_sensor" holds what is no text'),
            (changed(sensor_pct=101), '"sensor_pct" is out of its range'),
            (changed(difference_tenths=-100000), '"difference_tenths" is out of its range'),
            (changed(started_unix_s=-1), '"started_unix_s" is out of its range'),
            (changed(title=61 * "x"), '"title" is too long'),
            (changed(title="a\nb"), '"title" holds what is no text'),
            (changed(title="a\u0000b"), "no JSON"),
            (changed(title=None), '"title" is not a text'),
            (changed(state="riding"), '"state" is none of the words'),
            (changed(state="by_hand"), '"journal" is not null'),
            (changed(end="gone"), '"end" is none of the words'),
            (changed(after="arms"), '"after" is none of the words'),
            (json.dumps({**json.loads(text), "journal": "hello\n"}),
             "line 1 of its journal: this is not a journal"),
            (json.dumps({**json.loads(text), "journal": "afterset-journal 9\n"}),
             "line 1 of its journal: a journal of another version"),
        ]
        other = self.at_home("other")
        good = self.write("good.json", text)
        for case, words in cases:
            with about(f"{words}: {case[:60]}"):
                path = self.write("bad.json", case)
                # what stands before it on the line is not taken either
                done = self.run_program("import", good, path, program=ASAN, env=other)
                self.assert_ends(done, 1, "bad.json")
                self.assertIn(words, done.err)
                self.assertFalse((self.home / "other" / "afterset" / "rides.db").exists())
        huge = self.write("huge.json", b"{" + (16 << 20) * b" ")
        self.assert_ends(self.run_program("import", huge, env=other), 1, "larger than 16777216")

    def test_no_import_while_a_ride_is_under_way(self):
        self.ride()
        path = self.home / "one.json"
        self.export(1, "--as", "json", "--out", path)
        ride = self.start_program("ride", self.short, "--rate", 1, "--jsonl")
        ride.wait_for(is_kind("hello"))
        self.assert_ends(self.run_program("import", path), 1, "a ride is under way")
        self.assert_ends(self.run_program("add", "--length", "5:00", "--power", 200), 1,
                         "a ride is under way")
        self.assert_ends(self.run_program("export", 2, "--as", "csv"), 1, "has not ended")

    # ---- by hand ----

    def test_a_block_by_hand(self):
        self.assert_ends(self.run_program(
            "add", "--date", "2026-03-04 18:30", "--length", "5:00", "--work", "61.5", "--heart",
            151, "--distance", "2.5", "--calories", 80, "--after", "fresh", "--feel", 4,
            "--effort", 8, "--profile", "Old console", "--note", "before afterset",
            program=ASAN), 0)
        ride = self.show(1)
        for key, value in (("state", "by_hand"), ("started", "2026-03-04T18:30:00+0000"),
                           ("duration_s", 300), ("work_j", 61500), ("average_power_w", 205),
                           ("distance_m", 2500), ("calories_kcal", 80), ("average_heart_bpm", 151),
                           ("after", "fresh"), ("feel", 4), ("effort", 8),
                           ("profile", "Old console"), ("note", "before afterset")):
            with about(key):
                self.assertEqual(ride[key], value)
        self.assertIn("written by hand", self.run_program("show", 1).out)
        self.assertIn("written by hand", self.run_program("log", "--last", 5).out)
        self.assert_ends(self.run_program("export", 1, "--as", "csv"), 1, "written down by hand")
        self.assert_ends(self.run_program("export", 1, "--as", "fit"), 1, "written down by hand")
        self.assert_ends(self.run_program("show", 1, "--journal"), 1, "with a journal")
        self.assert_ends(self.run_program("rate", 1, "--effort", 5), 0)

    def test_a_table(self):
        table = self.write("year.csv", "date,length,work_kj,note\n" + "".join(
            f"2025-{month:02}-{day:02},5:00,{60 + month},\"round {day}, invented\"\n"
            for month in range(12, 0, -1) for day in range(28, 0, -1)))
        done = self.run_program("import", table, program=ASAN)
        self.assert_ends(done, 0)
        self.assertIn("336 rides saved, from ride 1 on", done.out)
        rides = self.run_program("log", "--jsonl").json()
        self.assertEqual(rides[0]["started"], "2025-12-28T12:00:00+0000")
        self.assertEqual(rides[-1]["started"], "2025-01-01T12:00:00+0000")
        self.assertEqual(rides[-1]["note"], "round 1, invented")
        self.assert_ends(self.run_program("import", table), 1,
                         "year.csv:337: it is there already, as ride 1;")

    def test_a_table_with_a_fault(self):
        head = "date,length,power_w\n2026-01-02,5:00,200\n"
        for row, words in (("2026-01-03,5:00\n", "bad.csv:3:1: expected work or power"),
                           ("2026-01-03,5:00,fast\n", "bad.csv:3:17: expected whole watts"),
                           ("2199-01-03,5:00,200\n", "bad.csv:3:1: expected a day that has been"),
                           ("2026-01-02,5:00,200\n", "bad.csv:3: it is there already, as ride 1")):
            with about(words):
                table = self.write("bad.csv", head + row)
                self.assert_ends(self.run_program("import", table, program=ASAN), 1, words)
                self.assertEqual(self.run_program("log", "--jsonl").out, "")

    def test_by_hand_it_is_compared_only_when_it_is_alike(self):
        """Profile, bike and length have to be said, and the same; see body/compare.h."""
        self.ride()
        seconds = self.show(1)["duration_s"]
        length = f"{seconds // 60}:{seconds % 60:02}"
        with sqlite3.connect(self.database) as store:  # so that those below came before it
            store.execute("UPDATE ride SET started_unix_s = started_unix_s - 1000000")
        store.close()
        before = ("add", "--length", length, "--power", 120)
        alike = ("--profile", "Invented short block", "--bike", "virtual")
        for day in range(1, 5):
            for hour, more in enumerate(((), alike[:2], alike[2:], (*alike, "--after", "fresh"))):
                date = f"2024-01-0{day} 1{hour}:00"
                self.assert_ends(self.run_program(*before, "--date", date, *more), 0)
        self.assertNotIn("Better than", self.run_program("show", 1).out)
        for day in range(1, 5):
            self.assert_ends(self.run_program(*before, "--date", f"2024-02-0{day}", *alike), 0)
        # the first two are learning
        self.assertIn("Better than the 2 before", self.run_program("show", 1).out)
        # there is nothing of it to run beside a ride
        done = self.run_program("ride", self.short, "--rate", 10000, "--beat", "work")
        self.assertEqual(done.status, 0, done.err)


if __name__ == "__main__":
    main()
