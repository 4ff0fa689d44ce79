#!/usr/bin/env python3
"""scan, ready and a ride where there is no Bluetooth: what is said, and what files are believed."""
import pathlib
import re
import socket
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import ASAN, Journey, main, unwrapped

NO_BLUETOOTH = "this system has no Bluetooth; ride with --bike virtual, or try sudo modprobe bluetooth"
BIKE = "F0:AA:1B:01:00:01"
PEDALS = "F0:AA:1B:01:00:03"
# A file of devices, where it is wrong, and what is said of it.
HOSTILE = [
    (b"toaster F0:AA:1B:01:00:01 public\n", "1:1", "machine, strap, power or cadence"),
    (b"machine F0:AA:1B:01:00 public\n", "1:9", "an address such as"),
    (b"machine F0:AA:1B:01:00:0G public\n", "1:9", "an address such as"),
    (b"machine F0:AA:1B:01:00:01 static\n", "1:27", "public or random"),
    (b"machine F0:AA:1B:01:00:01\n", "1:26", "public or random"),
    (b"strap F0:AA:1B:01:00:01 public\nstrap F0:AA:1B:01:00:02 public\n", "2:1", "each kind once"),
    (b"machine F0:AA:1B:01:00:01 public \x1b[2J\n", "1:", ""),
    (b"machine F0:AA:1B:01:00:01 public \xff\xfe\n", "1:", ""),
    (b"machine\0F0:AA:1B:01:00:01 public\n", "1:", ""),
    (b"\x7fELF" + bytes(200), "1:1", ""),
]


def has_bluetooth():
    try:
        socket.socket(socket.AF_BLUETOOTH, socket.SOCK_SEQPACKET, 0).close()
    except (AttributeError, OSError):
        return False
    return True


@unittest.skipIf(has_bluetooth(), "this system has Bluetooth")
class NoBluetooth(Journey):
    @property
    def devices(self):
        return self.home / "data" / "afterset" / "devices"

    def remember(self, octets):
        self.devices.parent.mkdir(exist_ok=True)
        self.devices.write_bytes(octets)

    def ready(self, status, *arguments):
        done = self.run_program("ready", "--jsonl", *arguments)
        self.assert_ends(done, status)
        return {line["thing"]: (line["state"], line["words"]) for line in done.json()}

    def test_scan(self):
        for arguments in ([], ["--for", "1s"], ["--keep"], ["--jsonl"], ["--through", "kernel"],
                          ["--through", "bluetoothd"], ["--keep", "--jsonl", "--for", "1s"]):
            done = self.run_program("scan", *arguments, program=ASAN)
            self.assert_ends(done, 1, f"^afterset: scan: {NO_BLUETOOTH}$")
            self.assertEqual(done.out, "")
        self.assertFalse(self.devices.exists())

    def test_keep_without_devices_leaves_what_is_remembered(self):
        text = f"machine  {BIKE}  random  Invented bike\n".encode()
        self.remember(text)
        self.assert_ends(self.run_program("scan", "--keep"), 1, NO_BLUETOOTH)
        self.assertEqual(self.devices.read_bytes(), text)

    def test_ready_for_the_virtual_bike(self):
        told = self.ready(0)
        self.assertEqual(told["adapter"], ("to do", NO_BLUETOOTH))
        self.assertEqual(told["devices"], ("to do", "none is remembered; afterset scan --keep"))
        self.assertEqual(told["store"][0], "ok")
        self.assertNotIn("power", told)  # of what is not there
        self.assertFalse((self.home / "data" / "afterset").exists())

    def test_ready_with_a_remembered_bike(self):
        self.remember(f"machine {BIKE} random Invented bike\n".encode())
        told = self.ready(1)
        self.assertEqual(told["adapter"], ("missing", NO_BLUETOOTH))
        self.assertEqual(told["machine"], ("ok", f"{BIKE} Invented bike is remembered"))
        told = self.ready(1, "--for", "1s")
        self.assertEqual(told["machine"], ("to do", f"{BIKE} Invented bike was not looked for"))

    def test_sensors_are_told_of_like_bike_and_strap(self):
        self.remember(f"machine {BIKE} random Invented bike\n"
                      f"power {PEDALS} random Invented pedals\n"
                      f"cadence {PEDALS} random Invented pedals\n".encode())
        told = self.ready(1)
        for thing in ("power", "cadence"):
            self.assertEqual(told[thing], ("ok", f"{PEDALS} Invented pedals is remembered"))
        done = self.run_program()
        self.assert_ends(done, 0)
        self.assertIn(f"\nPower   Invented pedals, {PEDALS}, out of reach: no Bluetooth adapter",
                      unwrapped(done.out))
        self.assertNotIn("\nCadence", done.out)  # one device, called once

    def test_ready_in_words(self):
        done = self.run_program("ready", program=ASAN)
        self.assert_ends(done, 0)
        self.assertIn(f"to do    adapter      {NO_BLUETOOTH} ", " ".join(re.split(r"\n {20,}|\n", done.out)))

    def test_ready_leaves_nothing_out_in_silence(self):
        """A folder whose name is not UTF-8 is no text in JSON."""
        env = dict(self.env, XDG_DATA_HOME=str(self.home / "\udcff"))
        done = self.run_program("ready", "--jsonl", program=ASAN, env=env)
        self.assert_ends(done, 1, "^afterset: ready: what is to be said of the store is not UTF-8")
        self.assertIn("rider", [line["thing"] for line in done.json()])

    def test_hostile_devices(self):
        for octets, where, words in HOSTILE:
            self.remember(octets)
            for command in (["ready"], ["ride", self.short]):
                done = self.run_program(*command, program=ASAN)
                self.assertEqual(done.status, 1, f"{octets}: {done.err}")
                self.assert_one_line(done.err)
                self.assertTrue(done.err.startswith(f"{self.devices}:{where}"), done.err)
                self.assertIn(words, done.err)
                self.assertIn("; mend the line, or delete the file", done.err)
                self.assertTrue(done.err[:-1].isprintable(), repr(done.err))
            self.assertEqual(self.devices.read_bytes(), octets)

    def test_a_ride_on_a_bike(self):
        cache = self.home / "cache" / "afterset"
        cache.mkdir(parents=True)
        (cache / f"handles-{BIKE}").write_bytes(b"\x01" + bytes(range(256)) * 400)
        done = self.run_program("ride", self.short, "--bike", BIKE, "--cautions-read",
                                program=ASAN)
        self.assert_ends(done, 1, f"^afterset: --bike {BIKE}: this system has no Bluetooth: ")


if __name__ == "__main__":
    main()
