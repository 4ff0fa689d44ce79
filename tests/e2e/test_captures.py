#!/usr/bin/env python3
"""Captures: those in tests/captures are ridden again, and what a ride writes is read by others.

Beside each capture lies a text that says where it is from, and what must come of it. The numbers
are not in it: they are worked out from the capture's octets, independently of the program.
"""
import os
import pathlib

import shutil

import stat
import struct
import subprocess
import sys
import threading
from collections import Counter

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from attributes import BIKE_DATA, HEART_MEASUREMENT, NOTIFY, POWER_RANGE, READ_TYPE_RSP
from capture import bike_data, connections, packets, pdus
from journey import (ASAN, DEADLINE_S, MACHINES, RELEASE, ROOT, Journey, about, is_kind, main,
                     on_machines, real_time)
from sums import check_lines, check_summary

CAPTURES = sorted((ROOT / "tests" / "captures").glob("*.btsnoop"))
POWER = ROOT / "tests" / "captures" / "power.btsnoop"
BOTH = ROOT / "tests" / "captures" / "bike-and-strap.btsnoop"


def value_handles(found, kind):
    """Where the links of a capture have the characteristic: (link, by_peer) → handle."""
    handles = {}
    for pdu in found:
        octets = pdu.octets
        if octets[0] != READ_TYPE_RSP or len(octets) < 9 or octets[1] != 7:
            continue
        for at in range(2, len(octets) - 6, 7):
            handle, number = struct.unpack_from("<3xHH", octets, at)
            if number == kind:
                handles.setdefault((pdu.link, pdu.by_peer), handle)
    return handles


def notified(found, kind):
    """(link, milliseconds, value) of the notifications of a characteristic, by the first peer that
    has it and says something; those at the other end of a link come first."""
    handles = value_handles(found, kind)
    for peer in sorted(handles, key=lambda key: not key[1]):
        told = [(pdu.link, pdu.time_us // 1000, pdu.octets[3:]) for pdu in found
                if pdu.octets[0] == NOTIFY and (*pdu.link[:2], pdu.by_peer) ==
                (*peer[0][:2], peer[1]) and
                struct.unpack_from("<H", pdu.octets, 1)[0] == handles[peer]]
        if told:
            return told
    return []


def expectation(path):
    """The words behind each key in the text beside a capture; '#' begins a comment."""
    lines = (line.split("#")[0].split(None, 1)
             for line in path.with_suffix(".txt").read_text().splitlines())
    return {key: rest.strip() for key, rest in (line for line in lines if len(line) == 2)}


class Replaying(Journey):
    """What the journeys below share."""

    def replay(self, path, *options, program=RELEASE, status=0, err=""):
        done = self.run_program("ride", self.short, "--jsonl", "--rate", 10000, "--bike",
                                f"capture:{path}", *options, program=program)
        self.assert_ends(done, status, err)
        return done.json()


class Recorded(Replaying):
    """What is in tests/captures."""

    def test_each(self):
        self.assertGreaterEqual(len(CAPTURES), 6)
        for path in CAPTURES:
            with self.subTest(path.name), about(path.name):
                self.check(path, expectation(path))

    def check(self, path, wanted):
        options = ["--strap", f"capture:{path}"] if "strap" in wanted else []
        lines = None
        for program in (RELEASE, ASAN):
            again = self.replay(path, *options, program=program, status=int(wanted["status"]),
                                err=wanted.get("says", ""))
            for line in again:
                line.pop("ride_id", None)
            self.assertEqual(lines or again, again, "the same capture, another ride")
            lines = again
        for line in lines:
            if line["event"] in ("hello", "summary"):
                line["ride_id"] = 0
        check_lines(self, lines)
        check_summary(self, lines, exact="clock" not in wanted)
        summary = lines[-1]
        self.assertEqual((summary["end"], summary["reason"]), (wanted["end"], wanted["reason"]))
        holds = [line["reason"] for line in lines if line["event"] == "hold" and line["on"]]
        self.assertEqual(holds, wanted.get("holds", "").split())
        self.check_numbers(path, lines, "strap" in wanted)

    def check_numbers(self, path, lines, has_strap):
        """Each line of telemetry is a record of the capture, at its time after the others."""
        found = list(pdus(path.read_bytes()))
        heard = [(link, t_ms, data) for link, t_ms, value in notified(found, BIKE_DATA)
                 if {"power", "cadence", "distance"} <= set(data := bike_data(value))]
        told = [line for line in lines if line["event"] == "telemetry"]
        self.assertGreater(len(told), 50)
        times = self.times_of(told, heard)
        start_m = []  # of the machine's count, anew after each stretch that is not counted
        for line in told:
            near = [data for late in (0, 1, -1) for data in times.get(line["t_ms"] + late, ())
                    if self.values_of(line) == self.values_of_record(data)]
            self.assertTrue(near, f"it was not heard then: {line}")
            data = min(near, key=lambda data: data["distance"] - line["distance_m"] not in start_m)
            if data["distance"] - line["distance_m"] not in start_m:
                start_m.append(data["distance"] - line["distance_m"])
            if not has_strap and line["heart_bpm"] is not None:
                self.assertEqual(line["heart_bpm"], data["heart"])
        holds = [line for line in lines if line["event"] == "hold" and line["on"]]
        self.assertLessEqual(len(start_m), 1 + len(holds), "distances that do not go on")
        self.assertEqual(lines[-1]["distance_m"], data["distance"] - start_m[-1])
        if has_strap:
            hearts = [value[1] for _, _, value in notified(found, HEART_MEASUREMENT)]
            self.assertLessEqual({line["heart_bpm"] for line in told}, {None, *hearts})
            self.assertEqual(lines[-1]["max_heart_bpm"], max(hearts))

    @staticmethod
    def values_of(line):
        return line["power_w"], line["cadence_rpm"]

    @staticmethod
    def values_of_record(data):
        return data["power"], (data["cadence"] + 1) // 2

    def times_of(self, told, heard):
        """The records by when they must have been told: the time that fits most, on each link."""
        when = {}
        for line in told:
            when.setdefault(self.values_of(line), []).append(line["t_ms"])
        times = {}
        for link in {link for link, _, _ in heard}:
            records = [(t_ms, data) for other, t_ms, data in heard if other == link]
            offsets = Counter(told_ms - t_ms for t_ms, data in records
                              for told_ms in when.get(self.values_of_record(data), ()))
            offset = offsets.most_common(1)[0][0]
            for t_ms, data in records:
                times.setdefault(t_ms + offset, []).append(data)
        return times

    # ---- what does not fit ----

    def test_other_requests(self):
        """A profile that asks for loads that the recorded bike never heard of."""
        profile = self.write("other.profile", "title Invented other block\nlength 3:00..7:00\n"
                                              "rounds 3\n work 0:40 power 150..160 W\n"
                                              " rest 0:20 power 60..70 W\nend\n")
        done = self.run_program("ride", profile, "--jsonl", "--rate", 10000, "--bike",
                                f"capture:{POWER}", program=ASAN)
        self.assert_ends(done, 0)
        check_lines(self, done.json())

    def test_cut_anywhere(self):
        """However little there is: an end in time, and a line that says what is missing."""
        octets = POWER.read_bytes()
        for length in (0, 1, 15, 16, 17, 39, 40, 200, 700, 1500, 2500, 3000, 3500, 4000, 9000):
            with self.subTest(length):
                path = self.write("cut.btsnoop", octets[:length])
                done = self.run_program("ride", self.short, "--rate", 10000, "--unrecorded",
                                        "--bike", f"capture:{path}", program=ASAN)
                self.assertIn(done.status, (1, 3))
                self.assert_one_line(done.err)
                self.assertRegex(done.err, "capture|machine|bike")

    def test_what_is_no_capture(self):
        folder = self.home / "folder"
        folder.mkdir()
        other = self.write("other.btsnoop", b"btsnoop\0\0\0\0\1\0\0\3\xeb")
        rows = [(ROOT / "README.md", "that is no btsnoop capture"), (folder, "Is a directory"),
                ("/none", "No such file"),
                (other, "1001, 1002 and 2001"),
                (self.write("none.btsnoop", POWER.read_bytes()[:16]), "no such device")]
        for path, says in rows:
            for option in ("--bike", "--strap"):
                with self.subTest(f"{option} {path}"):
                    done = self.run_program("ride", self.short, option, f"capture:{path}",
                                            program=ASAN)
                    self.assert_ends(done, 1, says)


class Written(Replaying):
    """What --capture writes."""

    def ride(self, *options, program=RELEASE, status=0, err=""):
        done = self.run_program("ride", self.short, "--jsonl", "--rate", 10000, *options,
                                program=program)
        self.assert_ends(done, status, err)
        return done.json()

    def test_a_ride_captured_twice(self):
        """The capture of a captured ride holds the same packets, and both rides are the same."""
        first, second = self.home / "first", self.home / "second"
        lines = self.ride("--bike", "virtual", "--seed", 5, "--capture", first)
        again = self.ride("--bike", f"capture:{first}", "--capture", second, program=ASAN)
        self.assertEqual(lines[1:-1], again[1:-1])
        one, other = (list(packets(path.read_bytes())) for path in (first, second))
        self.assertEqual([packet[1:] for packet in one], [packet[1:] for packet in other])
        self.assertEqual([packet.time_us - one[0].time_us for packet in one],
                         [packet.time_us - other[0].time_us for packet in other])

    def test_for_the_owner_and_without_addresses(self):
        path = self.home / "both"
        self.ride("--bike", f"capture:{BOTH}", "--strap", f"capture:{BOTH}", "--capture", path)
        self.assertEqual(stat.S_IMODE(path.stat().st_mode), 0o600)
        self.assertEqual(sorted(connections(path.read_bytes())),
                         [(0x40, b"\1\0\0\0\0\0"), (0x41, b"\2\0\0\0\0\0")])

    def test_what_is_there_is_not_written_over(self):
        path = self.write("taken", "somebody's work")
        self.ride("--capture", path, status=1, err="taken: File exists; choose another name$")
        self.assertEqual(path.read_text(), "somebody's work")
        fresh = self.home / "fresh"
        self.ride("--capture", fresh, "--bike", "unix:/none", status=1, err="no such socket")
        self.assertFalse(fresh.exists(), "an empty capture is in the way of the next try")
        self.ride("--capture", "/none/x", status=1, err="--capture /none/x: No such file")

    def test_full_disk(self):
        """One line; the ride goes on to its end and is called done."""
        lines = self.ride("--capture", "/dev/full", program=ASAN,
                          err="/dev/full: the capture ends here: No space left on device; the ride "
                              "goes on without it$")
        self.assertEqual(lines[-1]["reason"], "plan_done")
        path = self.home / "limited"
        done = self.run_program("ride", self.short, "--rate", 10000, "--unrecorded", "--capture",
                                path, limit_file_octets=20000)
        self.assert_ends(done, 0, "limited: the capture ends here: File too large")
        self.assertEqual(path.stat().st_size, 20000)

    def test_reader_who_stands_still(self):
        """A pipe that nobody empties takes what it can; the ride is the same as without."""
        path = self.home / "pipe"
        os.mkfifo(path)
        self.ride("--capture", path, status=1, err="No such device or address")
        reader = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
        lines = self.ride("--capture", path)
        os.close(reader)
        self.assertEqual(lines[1:-1], self.ride()[1:-1])

    def test_reader_who_reads(self):
        """As with --capture >(tshark -i -)."""
        path, read = self.home / "pipe", []
        os.mkfifo(path)
        reader = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
        os.set_blocking(reader, True)
        # Begins before the writer is there: an end of file is not yet the end.
        def take():
            while not read or read[-1]:
                read.append(os.read(reader, 65536))
        ride = self.start_program("ride", self.short, "--rate", 10000, "--capture", path)
        ride.line()
        thread = threading.Thread(target=take)
        thread.start()
        self.assert_ends(ride.finish(), 0)
        thread.join(DEADLINE_S)
        os.close(reader)
        self.assertGreater(len(list(pdus(b"".join(read)))), 700)


@real_time
class OverASocket(Replaying):
    """Two processes, in the system's time."""

    def test_socket_link(self):
        """A bike in another process, that drops the link once: two connections in the capture."""
        path, capture = self.home / "bike", self.home / "capture"
        self.start_bike(path, "--machine", MACHINES / "drops-link.machine", "--rate", 20)
        ride = self.start_program("ride", self.short, "--jsonl", "--bike", f"unix:{path}", "--rate",
                                  20, "--capture", capture, "--unrecorded")
        ride.wait_for(is_kind("hold", reason="link"), "the loss")
        ride.wait_for(is_kind("phase", phase="riding"), "the return")
        for _ in range(20):
            ride.wait_for(is_kind("telemetry"), "readings")
        ride.kill()  # what was written until then is there all the same
        self.assertEqual(connections(capture.read_bytes()), 2 * [(0x40, b"\1\0\0\0\0\0")])
        lines = self.replay(capture, status=3, err="the capture ends here$")
        holds = [line["reason"] for line in lines if line["event"] == "hold" and line["on"]]
        self.assertEqual(holds[-1], "link")
        self.assertIn("link", holds[:-1])


class ReadByOthers(Journey):
    """Programs that none of us wrote read what --capture writes."""

    def captured(self):
        path = self.home / "capture"
        done = self.run_program("ride", self.short, "--rate", 10000, "--bike", "virtual", "--strap",
                                f"capture:{POWER}", "--capture", path)
        self.assert_ends(done, 0)
        return path

    def needs(self, tool, package):
        if shutil.which(tool) is None:
            self.skipTest(f"{tool} is not installed (apt-get install {package})")

    def test_tshark(self):
        self.needs("tshark", "tshark")
        path = self.captured()
        fields = ["bthci_acl.src.bd_addr", "bthci_acl.dst.bd_addr",
                  "btatt.heart_rate_measurement.value.8",
                  "btatt.supported_power_range.minimum_power",
                  "btatt.supported_power_range.maximum_power"]
        heart_bpm, minimum_w, maximum_w = fields[2:]
        options = [word for field in fields for word in ("-e", field)]
        done = subprocess.run(["tshark", "-r", path, "-Y", "btatt", "-T", "fields", *options],
                              capture_output=True, text=True, check=False, timeout=DEADLINE_S)
        self.assertEqual(done.returncode, 0, done.stderr)
        rows = [dict(zip(fields, line.split("\t"))) for line in done.stdout.splitlines()]
        found = list(pdus(path.read_bytes()))
        self.assertEqual(len(rows), len(found))
        hearts = [int(row[heart_bpm]) for row in rows if row[heart_bpm]]
        heart = value_handles(found, HEART_MEASUREMENT)
        self.assertEqual(hearts, [pdu.octets[4] for pdu in found if pdu.octets[0] == NOTIFY and
                                  struct.unpack_from("<H", pdu.octets, 1)[0] ==
                                  heart.get((pdu.link, pdu.by_peer))])
        ranges = {(int(row[minimum_w]), int(row[maximum_w])) for row in rows if row[minimum_w]}
        handle = value_handles(found, POWER_RANGE)[((0, 0x40, 0), True)]
        asked = next(i for i, pdu in enumerate(found)
                     if pdu.octets == struct.pack("<BH", 0x0a, handle))
        self.assertEqual(ranges, {struct.unpack_from("<hh", found[asked + 1].octets, 1)})
        peers = {row[field] for row in rows for field in fields[:2]}
        self.assertLessEqual({"00:00:00:00:00:01", "00:00:00:00:00:02"}, peers)

    def test_btmon(self):
        """Without an adapter btmon 5.66 breaks down at the first Read By Type Request, also in its
        own captures: it keeps no connections then."""
        self.needs("btmon", "bluez")
        done = subprocess.run(["stdbuf", "-oL", "btmon", "--no-pager", "-r", self.captured()],
                              capture_output=True, text=True, check=False, timeout=DEADLINE_S)
        adapters = pathlib.Path("/sys/class/bluetooth")
        if adapters.is_dir() and any(adapters.iterdir()):
            self.assertEqual(done.returncode, 0, done.stderr)
            self.assertIn("Handle Value Notification", done.stdout)
        self.assertRegex(done.stdout, r"LE Connection Complete[^>]*Handle: 64")
        self.assertRegex(done.stdout, "Exchange MTU Request")
        self.assertRegex(done.stdout, "UUID: Fitness Machine")

globals().update(on_machines(Written, "test_a_ride_captured_twice"))


if __name__ == "__main__":
    main()
