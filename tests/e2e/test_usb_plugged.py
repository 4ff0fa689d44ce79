#!/usr/bin/env python3
"""The program where a receiver is plugged in on USB: umockdev is the kernel, libusb the real one."""
import pathlib
import signal
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
import receiver
from journey import BUILD, RELEASE, Journey, is_kind, main, real_time
from sums import check_lines
from trainer import RESISTANCE, Trainer

MOCKED = BUILD / "release" / "tests" / "e2e" / "lib" / "usb_mocked"
KEY = bytes.fromhex("00C0FFEEC0FFEE99")  # invented
STRAP, BIKE = 4711, 815


@unittest.skipUnless(MOCKED.exists(), "there is no umockdev (packages umockdev, libumockdev-dev)")
@real_time
class UsbPlugged(Journey):
    def setUp(self):
        super().setUp()
        self.settings_file.write_text(f"experienced yes\nusb-network-key {KEY.hex()}\n")
        self.receiver_path = self.home / "receiver"
        self.receiver = receiver.Receiver(self.receiver_path, KEY, [receiver.strap(STRAP, 137)], 1)
        self.addCleanup(self.receiver.finish)

    def run_mocked(self, *arguments):
        return self.run_program(self.receiver_path, RELEASE, *arguments, program=MOCKED)

    def things(self, status=0):
        done = self.run_mocked("ready", "--jsonl")
        self.assert_ends(done, status)
        return {line["thing"]: (line["state"], line["words"]) for line in done.json()}

    def test_ready_says_what_is_plugged_in(self):
        things = self.things()
        self.assertEqual(things["receiver"], ("ok", "USB 1-2"))
        self.assertEqual(things["usb adapter"][0], "to do")
        self.assertRegex(things["usb adapter"][1], "at 1-3, and the kernel does not use it")
        self.assertEqual(things["network key"], ("ok", "is set"))

    def test_ready_says_what_works_without_a_key(self):
        self.settings_file.write_text("experienced yes\n")
        state, words = self.things()["network key"]
        self.assertEqual(state, "to do")
        self.assertRegex(words, "^is not set: .*usb-network-key.*Bluetooth.* work without")

    def test_scan_listens_where_there_is_no_bluetooth(self):
        done = self.run_mocked("scan", "--for", "3s")
        self.assertEqual(done.status, 0)
        self.assertEqual(done.lines[1].split(), ["?", "-", f"usb:{STRAP}", "usb", "strap"])
        self.assertRegex(done.err, "^afterset: scan: .*Bluetooth")

    def test_ready_listens_for_remembered_sensors(self):
        self.database.parent.mkdir()
        (self.database.parent / "devices").write_text(f"machine usb:{BIKE}\nstrap usb:{STRAP}\n"
                                                      "power usb\n")
        self.receiver.sensors.append(Trainer(BIKE))
        done = self.run_mocked("ready", "--jsonl", "--for", "3s")
        things = {line["thing"]: (line["state"], line["words"]) for line in done.json()}
        self.assertEqual(things["machine"], ("ok", f"usb:{BIKE} is in reach"))
        self.assertEqual(things["strap"], ("ok", f"usb:{STRAP} is in reach"))
        self.assertEqual(things["power"][0], "missing")
        self.assertRegex(things["power"][1], "^usb is not in reach")

    def test_an_adapter_is_reset_where_that_is_asked_for(self):
        done = self.run_mocked("ready", "--reset-adapter")
        self.assert_ends_with(done, "The Bluetooth adapter at 1-3 was reset; see whether it works: "
                                    "afterset ready\n", "resets 1\n")

    def assert_ends_with(self, done, out, err):
        self.assertEqual((done.status, done.out, done.err), (0, out, err))

    def test_strap_pulled_out_in_work_and_put_back(self):
        bike_path = self.home / "bike"
        self.start_bike(bike_path, "--machine",
                        self.write("bike.machine", "name Invented bike\nheart no\n"))
        ride = self.start_program(self.receiver_path, RELEASE, "ride", self.short, "--jsonl",
                                  "--bike", f"unix:{bike_path}", "--strap", "usb",
                                  program=MOCKED)
        ride.wait_for(is_kind("load", kind="power"), "the first work")
        ride.wait_for(lambda event: event["event"] == "telemetry" and event["heart_bpm"] == 137,
                      "the strap")
        ride.signal(signal.SIGUSR1)
        lost = ride.wait_for(is_kind("caution", caution="strap_lost"), "the caution")
        ride.signal(signal.SIGUSR1)
        back = ride.wait_for(lambda event: event["event"] == "telemetry" and event["heart_bpm"],
                             "the strap again")
        self.assertEqual(back["heart_bpm"], 137)
        self.assertGreater(back["t_ms"], lost["t_ms"])
        ride.signal(signal.SIGTERM)
        done = ride.finish()
        self.assert_ends(done, 0)
        lines = done.json()
        check_lines(self, lines)
        self.assertEqual([line for line in lines if line["event"] == "hold"], [])
        self.assertEqual(self.receiver.links, 2)
        self.assertEqual(self.receiver.asked, [(0, 0, 120), (0, STRAP, 120)])

    def in_work(self, ride):
        ride.wait_for(lambda event: event["event"] == "telemetry" and event["power_w"]
                      and event["power_w"] > 150, "the first work")

    def test_remembered_trainer_pulled_out_in_work_and_put_back(self):
        bike = Trainer(BIKE)
        self.receiver.sensors.append(bike)
        done = self.run_mocked("scan", "--for", "5s", "--keep")
        self.assertIn(f"  machine  usb:{BIKE} usb", "\n".join(done.lines))
        ride = self.start_program(self.receiver_path, RELEASE, "ride", self.short, "--jsonl",
                                  "--cautions-read", program=MOCKED)
        self.in_work(ride)
        ride.signal(signal.SIGUSR1)
        held = ride.wait_for(is_kind("hold"), "the hold")
        self.assertEqual(held["reason"], "link")
        told = len(bike.log)
        ride.signal(signal.SIGUSR1)
        ride.wait_for(is_kind("hold", on=False), "going on")
        self.in_work(ride)
        ride.signal(signal.SIGTERM)
        done = ride.finish()
        self.assert_ends(done, 0)
        lines = done.json()
        check_lines(self, lines)
        self.assertIn(137, {line["heart_bpm"] for line in lines if line["event"] == "telemetry"})
        self.assertLessEqual(max(bike.targets_w()), 220)
        self.assertEqual(bike.log[told][2:], (RESISTANCE, 0))
        self.assertEqual(bike.log[-1][2:], (RESISTANCE, 0))
        self.assertEqual(self.receiver.links, 3)
        self.assertEqual(lines[0]["bike"], f"usb:{BIKE}")

    def test_a_trainer_that_is_asked_for_and_a_signal(self):
        """It is told to end, and the log has one bike, however it was called."""
        self.receiver.sensors.append(Trainer(BIKE))
        called = "usb", f"usb:{BIKE}"
        for bike in called:
            ride = self.start_program(self.receiver_path, RELEASE, "ride", self.short, "--jsonl",
                                      "--cautions-read", "--bike", bike, program=MOCKED)
            self.in_work(ride)
            ride.signal(signal.SIGTERM)
            done = ride.finish()
            self.assert_ends(done, 0)
            self.assertEqual(done.json()[0]["bike"], bike)
        rides = self.run_program("log", "--jsonl").json()
        self.assertEqual([ride["bike"] for ride in rides], [f"usb:{BIKE}"] * len(called))


if __name__ == "__main__":
    main()
