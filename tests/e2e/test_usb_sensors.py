#!/usr/bin/env python3
"""A strap, pedals and a crank through a receiver on USB, the bike in a process of its own."""
import pathlib
import shutil
import signal
import subprocess
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
import receiver
from journey import ASAN, DEADLINE_S, Journey, is_kind, main, real_time

# An answer is waited for 1 s of the ride's time.
RATE = 8
KEY = bytes.fromhex("00C0FFEEC0FFEE99")  # invented
STRAP, PEDALS, CRANK = 4711, 815, 65535
WEAK = "name Invented bike\ncontrol none\nknob 2 %\npower-noise 0 %\nheart no\n"


def kinds(lines, kind):
    return [line for line in lines if line["event"] == kind]


@real_time
class UsbSensors(Journey):
    def setUp(self):
        super().setUp()
        self.bike_path, self.receiver_path = self.home / "bike", self.home / "receiver"
        self.settings_file.write_text(f"experienced yes\nusb-network-key {KEY.hex()}\n")
        self.at = f"@{self.receiver_path}"

    def plug(self, *sensors, key=KEY, rate=RATE):
        device = receiver.Receiver(self.receiver_path, key, sensors, rate)
        self.addCleanup(device.finish)
        return device

    def start_ride(self, *arguments, **more):
        return self.start_ride_on(WEAK, RATE, *arguments, **more)

    def test_strap(self):
        device = self.plug(receiver.strap(STRAP, 141))
        ride = self.start_ride("--strap", f"usb{self.at}", program=ASAN)
        ride.wait_for(lambda event: event["t_ms"] > 40000, "40 s")
        lines = self.leave(ride)
        self.assertEqual(lines[0]["strap"], f"usb{self.at}")
        told = [line for line in kinds(lines, "telemetry") if line["t_ms"] > 20000]
        self.assertEqual({line["heart_bpm"] for line in told}, {141})
        cautions = {line["caution"] for line in kinds(lines, "caution")}
        self.assertFalse(cautions & {"strap_lost", "no_heart"}, cautions)
        self.assertEqual(device.keys, [KEY])
        self.assertEqual(device.asked, [(0, 0, 120)])

    def test_pedals_and_crank_and_strap(self):
        """Of each kind there may be two types, and others' sensors are about."""
        device = self.plug(receiver.strap(STRAP + 1, 99), receiver.strap(STRAP, 120),
                           receiver.trainer(PEDALS, 205, 86), receiver.crank(CRANK, 71))
        ride = self.start_ride("--strap", f"usb:{STRAP}{self.at}", "--power", f"usb{self.at}",
                               "--cadence", f"usb:{CRANK}{self.at}")
        ride.wait_for(lambda event: event["t_ms"] > 60000, "a minute")
        lines = self.leave(ride)
        told = [line for line in kinds(lines, "telemetry") if line["t_ms"] > 45000]
        self.assertEqual({(line["heart_bpm"], line["power_w"]) for line in told}, {(120, 205)})
        # Turns are counted whole, in 1/1024 s.
        self.assertTrue({line["cadence_rpm"] for line in told} <= {70, 71, 72}, told[-1])
        self.assertEqual(lines[0]["cadence_sensor"], f"usb:{CRANK}{self.at}")
        self.assertEqual(device.links, 1)

    def test_strap_falls_silent_and_comes_back(self):
        strap = receiver.strap(STRAP, 133)
        device = self.plug(strap, receiver.strap(STRAP + 1, 77))
        ride = self.start_ride("--strap", f"usb{self.at}")
        ride.wait_for(lambda event: event["event"] == "telemetry" and event["t_ms"] > 20000
                      and event["heart_bpm"] == 133, "the strap")
        strap.is_on = False
        lost = ride.wait_for(is_kind("caution", caution="strap_lost"), "the caution")
        # Longer than a search lasts.
        ride.wait_for(lambda event: event["t_ms"] > lost["t_ms"] + 15000, "15 s more")
        strap.is_on = True
        back = ride.wait_for(lambda event: event["event"] == "telemetry" and event["heart_bpm"],
                             "the strap again")
        self.assertEqual(back["heart_bpm"], 133)
        self.leave(ride)
        self.assertEqual(device.links, 1)
        self.assertEqual(device.asked[0], (0, 0, 120))
        self.assertEqual(set(device.asked[1:]), {(0, STRAP, 120)})

    def test_receiver_pulled_out_and_put_back(self):
        pedals = receiver.pedals(PEDALS, 240, 83)
        device = self.plug(pedals, receiver.strap(STRAP, 128))
        ride = self.start_ride("--power", f"usb{self.at}", "--strap", f"usb{self.at}")
        ride.wait_for(lambda event: event["event"] == "telemetry" and event["t_ms"] > 30000
                      and event["power_w"] == 240, "the pedals")
        device.unplug()
        caution = ride.wait_for(is_kind("caution", caution="power_sensor_lost"), "the caution")
        own = ride.wait_for(is_kind("telemetry"))
        self.assertNotEqual(own["power_w"], 240)
        again = self.plug(receiver.pedals(PEDALS + 1, 111, 60), pedals, receiver.strap(STRAP, 129))
        back = ride.wait_for(lambda event: event["event"] == "telemetry"
                             and event["t_ms"] > caution["t_ms"] and event["power_w"] == 240
                             and event["heart_bpm"] == 129, "the pedals again")
        lines = self.leave(ride)
        self.assertGreater(back["t_ms"], own["t_ms"])
        self.assertEqual(kinds(lines, "hold"), [])
        self.assertEqual(again.asked[:2], [(0, STRAP, 120), (1, PEDALS, 11)])

    def test_says_which_ones_were_heard(self):
        self.plug(receiver.strap(STRAP, 141), receiver.crank(CRANK, 71))
        self.start_bike(self.bike_path, "--rate", RATE)
        ride = self.start_program("ride", self.short, "--plain", "--unrecorded", "--rate", RATE,
                                  "--bike", f"unix:{self.bike_path}", "--strap",
                                  f"usb:{STRAP}{self.at}", "--cadence", f"usb{self.at}")
        while " 71 rpm" not in ride.line():
            pass
        ride.signal(signal.SIGTERM)
        done = ride.finish()
        self.assert_ends(done, 0)
        self.assertIn(f"That cadence sensor was number {CRANK}: '--cadence usb:{CRANK}' takes no "
                      "other.", done.lines)
        self.assertNotIn("That strap", done.out)

    def captured(self):
        """What a ride with strap and pedals leaves, beside the capture of its attributes."""
        path = self.home / "ride.btsnoop"
        self.plug(receiver.strap(STRAP, 141), receiver.pedals(PEDALS, 240, 83))
        ride = self.start_ride("--strap", f"usb{self.at}", "--power", f"usb{self.at}", "--capture",
                               path, program=ASAN)
        ride.wait_for(lambda event: event["t_ms"] > 40000, "40 s")
        self.leave(ride)
        self.assertTrue(path.read_bytes().startswith(b"btsnoop\0"))
        return self.home / "ride.btsnoop.usb.pcap"

    def test_capture_as_others_read_it(self):
        if shutil.which("tshark") is None:
            self.skipTest("tshark is not installed (apt-get install tshark)")
        path = self.captured()
        fields = [word for name in ("frame.time_epoch", "usb.transfer_type", "usb.urb_type",
                                    "usb.endpoint_address", "usb.capdata") for word in ("-e", name)]
        done = subprocess.run(["tshark", "-r", path, "-T", "fields", *fields], check=False,
                              capture_output=True, text=True, timeout=DEADLINE_S)
        self.assertEqual(done.returncode, 0, done.stderr)
        rows = [line.split("\t") for line in done.stdout.splitlines()]
        self.assertEqual({tuple(row[1:4]) for row in rows},
                         {("0x03", "'S'", "0x01"), ("0x03", "'C'", "0x81")})
        self.assertLess(abs(float(rows[0][0]) - time.time()), 600)
        out = [bytes.fromhex(row[4]) for row in rows if row[2] == "'S'"]
        self.assertEqual(out[0], bytes.fromhex("a4014a00ef"))
        octets = b"".join(bytes.fromhex(row[4]) for row in rows if row[2] == "'C'")
        # Page 4 of a strap or its like, with the heart rate behind it: 141 bpm.
        self.assertGreater(octets.count(bytes.fromhex("a4094e00")), 20)
        self.assertIn(bytes.fromhex("a409460000000000000000") + b"\0", out[1])
        self.assertNotIn(KEY, path.read_bytes())

    def test_capture_is_ridden_again(self):
        path = self.captured()
        self.settings_file.write_text("experienced yes\nusb-network-key 1122334455667788\n")
        machine = self.write("weak.machine", WEAK)
        done = self.run_program("ride", self.short, "--jsonl", "--unrecorded", "--rate", 1000,
                                "--bike", "virtual", "--machine", machine, "--strap",
                                f"usb@{path}", "--power", f"usb@{path}", program=ASAN)
        lines = done.json()
        told = [line for line in kinds(lines, "telemetry") if 20000 < line["t_ms"] < 30000]
        self.assertEqual({(line["heart_bpm"], line["power_w"]) for line in told}, {(141, 240)})
        # Where it ends they fall silent.
        self.assertTrue([line for line in kinds(lines, "caution")
                         if line["caution"] == "power_sensor_lost"])
        again = self.run_program("ride", self.short, "--unrecorded", "--strap", f"usb@{path}",
                                 "--capture", self.home / "ride.btsnoop")
        self.assert_ends(again, 1, "ride.btsnoop: File exists; choose another name$")
        (self.home / "ride.btsnoop").unlink()
        again = self.run_program("ride", self.short, "--unrecorded", "--strap", f"usb@{path}",
                                 "--capture", self.home / "ride.btsnoop")
        self.assert_ends(again, 1, "ride.btsnoop.usb.pcap: File exists; choose another name$")
        again = self.run_program("ride", self.short, "--unrecorded", "--bike", f"usb@{path}")
        self.assert_ends(again, 1, "^afterset: --bike usb@.*: sensors can be heard again from a "
                                   "capture of USB, a bike cannot be ridden again")
        self.write("no.pcap", "no capture at all, if a long one")
        again = self.run_program("ride", self.short, "--unrecorded", "--strap",
                                 f"usb@{self.home / 'no.pcap'}")
        self.assert_ends(again, 1, "that is no capture of USB: a pcap file of link type 220")

    def test_without_the_key_and_not_asked_for(self):
        """What is only remembered keeps nobody from riding."""
        self.settings_file.write_text("experienced yes\n")
        self.database.parent.mkdir()
        (self.database.parent / "devices").write_text("machine F0:AA:1B:01:00:01 public\n"
                                                      f"strap usb:{STRAP}\n")
        done = self.run_program("ride", self.short, "--unrecorded", "--cautions-read")
        self.assertEqual(done.status, 1)
        self.assertRegex(done.err, r"usb-network-key .*; the ride goes on without those sensors\n")
        self.assertRegex(done.err, r"--bike F0:AA:1B:01:00:01: ")

    def test_another_number_is_not_taken(self):
        self.plug(receiver.strap(STRAP, 141))
        ride = self.start_ride("--strap", f"usb:{STRAP + 1}{self.at}")
        ride.wait_for(is_kind("caution", caution="strap_lost"), "the caution")
        ride.wait_for(lambda event: event["t_ms"] > 20000, "20 s")
        lines = self.leave(ride, "^afterset: the strap: the receiver on USB does not hear it; wet "
                                 "it and wear it$")
        self.assertEqual({line["heart_bpm"] for line in kinds(lines, "telemetry")}, {None})

    def test_scan_finds_all(self):
        self.plug(receiver.strap(STRAP, 141), receiver.strap(STRAP + 1, 99),
                  receiver.trainer(PEDALS, 205, 86), receiver.pedals(PEDALS + 1, 240, 83),
                  receiver.crank(CRANK, 71), rate=1)
        done = self.run_program("scan", "--through", f"usb{self.at}", "--for", "3s", "--jsonl",
                                program=ASAN)
        self.assert_ends(done, 0)
        self.assertEqual({line["address"] for line in done.json()},
                         {f"usb:{number}"
                          for number in (STRAP, STRAP + 1, PEDALS, PEDALS + 1, CRANK)})

    def test_scan_finds_the_first_of_each_kind(self):
        """With a receiver that cannot listen to all at once."""
        device = self.plug(receiver.strap(STRAP, 141), receiver.trainer(PEDALS, 205, 86),
                           receiver.crank(CRANK, 71), rate=1)
        device.scans = False
        done = self.run_program("scan", "--through", f"usb{self.at}", "--for", "10s", "--keep",
                                program=ASAN)
        self.assert_ends(done, 0)
        self.assertEqual(sorted(line.split()[2:] for line in done.lines[1:4]),
                         [[f"usb:{STRAP}", "usb", "strap"], [f"usb:{CRANK}", "usb", "cadence"],
                          [f"usb:{PEDALS}", "usb", "machine"]])
        self.assertEqual((self.database.parent / "devices").read_text().splitlines()[1:],
                         [f"machine usb:{PEDALS}", f"strap usb:{STRAP}", f"cadence usb:{CRANK}"])

    def test_scan_without_a_receiver_or_a_key(self):
        scan = "scan", "--through", f"usb{self.at}", "--for", "1s"
        self.assert_ends(self.run_program(*scan), 1, "^afterset: scan: there is no such socket")
        self.settings_file.write_text("experienced yes\n")
        self.assert_ends(self.run_program(*scan), 1, "^afterset: sensors on USB need the network")

    def test_without_the_key(self):
        self.settings_file.write_text("experienced yes\n")
        done = self.run_program("ride", self.short, "--unrecorded", "--strap", f"usb{self.at}")
        self.assert_ends(done, 1, "^afterset: sensors on USB need the network key of their makers, "
                                  "who license it; where you have it, 'afterset rider "
                                  "usb-network-key 0123456789ABCDEF' keeps it in "
                                  f"{self.settings_file}$")

    def test_with_a_key_of_something_else(self):
        """No sensor is heard with it, and nobody can tell why."""
        self.plug(receiver.strap(STRAP, 141), key=KEY[::-1])
        ride = self.start_ride("--strap", f"usb{self.at}")
        ride.wait_for(is_kind("caution", caution="strap_lost"), "the caution")
        self.leave(ride, "^afterset: the strap: the receiver on USB does not hear it")

    def test_key_is_refused(self):
        device = self.plug(receiver.strap(STRAP, 141), key=None)
        ride = self.start_ride("--strap", f"usb{self.at}")
        ride.wait_for(is_kind("caution", caution="strap_lost"), "the caution")
        ride.wait_for(lambda event: event["t_ms"] > 20000, "20 s")
        self.leave(ride, "^afterset: the strap: the receiver refuses the network key$")
        self.assertGreater(device.links, 1)

    def test_receiver_falls_mute(self):
        device = self.plug(receiver.strap(STRAP, 141))
        ride = self.start_ride("--strap", f"usb{self.at}")
        ride.wait_for(lambda event: event["event"] == "telemetry" and event["t_ms"] > 20000
                      and event["heart_bpm"] == 141, "the strap")
        device.is_mute = True
        lost = ride.wait_for(is_kind("caution", caution="strap_lost"), "the caution")
        back = ride.wait_for(lambda event: event["event"] == "telemetry" and event["heart_bpm"],
                             "the strap again")
        self.leave(ride)
        # Asked after 15 s, given up after 3 more; called again 3 s later.
        self.assertLess(back["t_ms"] - lost["t_ms"], 30000)
        self.assertEqual(device.links, 2)

    def test_no_receiver(self):
        done = self.run_program("ride", self.short, "--unrecorded", "--strap", f"usb{self.at}")
        self.assert_ends(done, 1, "^afterset: --strap usb@.*: there is no such socket")


if __name__ == "__main__":
    main()
