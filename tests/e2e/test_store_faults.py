#!/usr/bin/env python3
"""A store that cannot be opened, is full, or is damaged: said in one line, and never in the way."""
import os
import pathlib
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import ASAN, RELEASE, Journey, is_kind, main, real_time
from sums import check_lines, check_summary

RIDE = ("--jsonl", "--rate", 10000)


@real_time
class StoreFaults(Journey):
    def ride(self, *arguments, **more):
        return self.run_program("ride", self.short, *RIDE, *arguments, **more)

    def check_unrecorded(self, env):
        done = self.ride("--unrecorded", env=env)
        self.assert_ends(done, 0)
        lines = done.json()
        check_lines(self, lines)
        self.assertEqual((lines[0]["ride_id"], lines[-1]["ride_id"], lines[-1]["reason"]),
                         (None, None, "plan_done"))

    def test_no_folder_can_be_made(self):
        env = dict(self.env, XDG_DATA_HOME="/dev/null/x")
        done = self.ride(env=env)
        self.assert_ends(done, 1, r"^afterset: /dev/null/x.*: cannot be made: Not a directory")
        self.assertEqual(done.out, "")
        self.check_unrecorded(env)

    def test_neither_home_nor_folders(self):
        env = {key: value for key, value in self.env.items()
               if key not in ("HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME")}
        self.assert_ends(self.ride(env=env), 1, "^afterset: neither HOME nor XDG_")
        self.assert_ends(self.run_program("log", env=env), 1, "^afterset: neither HOME nor XDG_")

    @unittest.skipIf(os.geteuid() == 0 and not shutil.which("setpriv"), "root, and no setpriv")
    def test_folder_without_permission(self):
        (self.home / "data").chmod(0o500)
        # Root without capabilities is bound by permissions like anybody.
        bound = ["setpriv", "--inh-caps=-all", "--bounding-set=-all"] if os.geteuid() == 0 else []
        for options, status in (((), 1), (("--unrecorded",), 0)):
            found = subprocess.run([*bound, RELEASE, "ride", self.short, "--rate", "10000",
                                    *options],
                                   env=self.env, capture_output=True, text=True, check=False)
            self.assertEqual(found.returncode, status, found.stderr)
            if status == 1:
                self.assert_one_line(found.stderr)
                self.assertIn("Permission denied", found.stderr)
        (self.home / "data").chmod(0o700)

    def full_disk(self, octets, program=RELEASE):
        """A ride whose files may not grow beyond so many octets."""
        done = self.ride(limit_file_octets=octets, program=program)
        self.assertEqual(done.status, 1, done.err)
        self.assert_one_line(done.err)
        lines = done.json()
        check_lines(self, lines)
        check_summary(self, lines)
        self.assertEqual((lines[-1]["end"], lines[-1]["reason"]), ("done", "plan_done"))
        self.assertIn("not_saved", [line["caution"] for line in lines
                                    if line["event"] == "caution"])
        return done

    def check_disk_full(self, program):
        self.assert_ends(self.ride(), 0)
        before = self.journal(1)
        room = max(path.stat().st_size for path in self.database.parent.iterdir())
        self.check_told_place(self.full_disk(room, program))
        self.assertEqual(self.journal(1), before, "the older ride was touched")
        # With room again everything goes on, and what was written of the ride is recovered.
        done = self.ride()
        self.assert_ends(done, 0, "^afterset: ride 2 was broken off; ")
        log = self.run_program("log", "--jsonl").json()
        self.assertEqual([ride["state"] for ride in log], ["finished", "recovered", "finished"])

    def test_disk_full_in_mid_ride(self):
        self.check_disk_full(RELEASE)

    def test_disk_full_with_sanitizers(self):
        self.check_disk_full(ASAN)

    def check_told_place(self, done):
        """The journal is where the line says, whole, unless there was no room there either."""
        self.assertRegex(done.err, "^afterset: the ride could not be saved: ")
        found = re.search(r"its journal is in (\S+) ", done.err)
        if found is None:
            self.assertIn("nor could its journal be written to", done.err)
            return
        replayed = self.run_program("replay", found[1])
        self.assert_ends(replayed, 0)
        self.assertRegex(replayed.out, "all as recorded; done\n$")
        self.assertEqual(pathlib.Path(found[1]).stat().st_mode & 0o777, 0o600)

    def test_journal_is_rescued(self):
        """A database that grows past the limit while a journal alone still fits."""
        for _ in range(6):
            self.assert_ends(self.ride(), 0)
        journal = len(self.journal(1))
        size = self.database.stat().st_size
        self.assertGreater(size, 0)
        room = max(journal + 20000, size)
        with sqlite3.connect(self.database) as store:  # larger than the room for a journal
            store.execute("CREATE TABLE ballast (octets BLOB)")
            store.execute("INSERT INTO ballast VALUES (zeroblob(?))", (room,))
        store.close()
        done = self.ride(limit_file_octets=room)
        if done.status == 1 and done.out == "":  # it does not even begin: said in one line
            self.assert_one_line(done.err)
        else:
            self.check_told_place(done)

    def test_no_room_at_all(self):
        done = self.ride(limit_file_octets=0)
        self.assert_ends(done, 1, "'--unrecorded' rides without saving$")
        self.assertEqual(done.out, "")

    def check_refused(self, content, words):
        self.database.parent.mkdir(exist_ok=True)
        self.database.write_bytes(content)
        for command in (("ride", self.short, *RIDE), ("log",), ("show", 1), ("log", "--jsonl"),
                        ("show", 1, "--journal")):
            done = self.run_program(*command, program=ASAN)
            self.assert_ends(done, 1, words)
            self.assertEqual(done.out, "")
        self.assertEqual(self.database.read_bytes(), content, "the file was changed")
        self.check_unrecorded(self.env)

    def test_damaged_database(self):
        self.check_refused(b"This is no database.\n" * 500, "^afterset: .*rides.db")

    def test_database_of_something_else(self):
        path = self.home / "other.db"
        with sqlite3.connect(path) as other:
            other.execute("CREATE TABLE rides (id INTEGER PRIMARY KEY, secret TEXT)")
        other.close()
        self.check_refused(path.read_bytes(), "^afterset: .*rides.db")

    def test_torn_database(self):
        """The first half of a real one, and one with holes: some line, no crash, no repair."""
        self.assert_ends(self.ride(), 0)
        self.run_program("log")
        with sqlite3.connect(self.database) as store:
            store.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        store.close()
        whole = self.database.read_bytes()
        for name, content in (("half", whole[:len(whole) // 2 // 4096 * 4096]),
                              ("hole", whole[:4096] + bytes(len(whole) - 4096))):
            with self.subTest(name):
                for rest in self.database.parent.iterdir():
                    rest.unlink()
                self.database.write_bytes(content)
                for command in (("ride", self.short, *RIDE), ("log",), ("show", 1, "--journal")):
                    done = self.run_program(*command, program=ASAN)
                    self.assertIn(done.status, (0, 1), done.err)
                    if done.status == 1:
                        self.assert_one_line(done.err)

    def test_a_folder_in_its_place(self):
        self.database.mkdir(parents=True)
        done = self.ride()
        self.assert_ends(done, 1, "'--unrecorded' rides without saving$")
        self.check_unrecorded(self.env)

    def test_database_vanishes_in_mid_ride(self):
        """Somebody deletes the folder: the ride goes on to its end."""
        ride = self.start_program("ride", self.short, "--jsonl", "--rate", 100)
        self.wait_working(ride)
        shutil.rmtree(self.database.parent)
        done = ride.finish()
        self.assertIn(done.status, (0, 1), done.err)
        lines = done.json()
        check_lines(self, lines)
        self.assertEqual(lines[-1]["reason"], "plan_done")
        if done.err:
            self.assert_one_line(done.err)

    def test_busy_database(self):
        """A writer from outside holds the file for a while; the ride waits for nobody."""
        ride = self.start_program("ride", self.short, "--jsonl", "--rate", 20)
        self.wait_working(ride)
        store = sqlite3.connect(self.database, isolation_level=None)
        self.addCleanup(store.close)
        store.execute("BEGIN EXCLUSIVE")
        caution = ride.wait_for(is_kind("caution", caution="not_saved"), "the caution")
        later = ride.wait_for(lambda event: event["t_ms"] > caution["t_ms"] + 20000)
        self.assertLess(later["t_ms"], caution["t_ms"] + 22000, "the ride stood still")
        store.execute("ROLLBACK")
        ride.wait_for(lambda event: event["t_ms"] > later["t_ms"] + 3000)
        ride.signal(signal.SIGTERM)
        done = ride.finish()
        self.assert_ends(done, 0)
        stored = self.show(1)
        self.assertEqual((stored["state"], stored["work_j"]),
                         ("finished", done.json()[-1]["work_j"]))
        replayed = self.run_program("replay", self.write("ride.journal", self.journal(1)))
        self.assert_ends(replayed, 0)


if __name__ == "__main__":
    main()
