#!/usr/bin/env python3
"""The rules for udev: read by udev where it can, and by a reader of the part of udev(7) they use."""
import fnmatch
import pathlib
import re
import shutil
import subprocess
import sys
import unittest

sys.path.insert(0, str(pathlib.Path(__file__).parent / "lib"))
from journey import ROOT, Journey, main

RULES = ROOT / "udev" / "70-afterset.rules"
# What gives the seat's user his devices: systemd's 73-seat-late.rules.
SEAT_LATE = 73
PART = re.compile(r'(?P<key>[A-Z]+)(?:\{(?P<name>[^}]+)\})?(?P<sign>==|!=|\+=|=)"(?P<value>[^"]*)"')
MATCHES = {"ACTION", "SUBSYSTEM", "ENV", "ATTR", "TEST"}
ASSIGNS = {"GOTO": "=", "LABEL": "=", "TAG": "+=", "ATTR": "="}


def read_rules():
    """A list of parts for each rule; complains about what is not of this part of the language."""
    rules = []
    for number, line in enumerate(RULES.read_text().splitlines(), 1):
        if not line or line.startswith("#"):
            continue
        parts = []
        for text in line.split(", "):
            part = PART.fullmatch(text)
            assert part, f"{RULES}:{number}: '{text}'"
            is_match = part["sign"] in ("==", "!=")
            assert not is_match or part["key"] in MATCHES, f"{RULES}:{number}: '{text}'"
            assert is_match or ASSIGNS.get(part["key"]) == part["sign"], f"{RULES}:{number}: '{text}'"
            parts.append(part)
        rules.append(parts)
    return rules


def holds(part, device):
    if part["key"] == "TEST":
        found = part["value"] in device["attributes"]
    else:
        values = {"ACTION": device["action"], "SUBSYSTEM": device["subsystem"],
                  "ENV": device["environment"].get(part["name"], ""),
                  "ATTR": device["attributes"].get(part["name"])}
        value = values[part["key"]]
        if value is None:  # udev(7): no such attribute matches nothing
            return False
        found = any(fnmatch.fnmatchcase(value, one) for one in part["value"].split("|"))
    return found == (part["sign"] == "==")


def apply(rules, device):
    """The tags and attributes that come of them."""
    labels = {part["value"]: at for at, rule in enumerate(rules) for part in rule
              if part["key"] == "LABEL"}
    done, at = {}, 0
    while at < len(rules):
        rule, at = rules[at], at + 1
        if not all(holds(part, device) for part in rule if part["sign"] in ("==", "!=")):
            continue
        for part in rule:
            if part["key"] == "GOTO":
                assert labels[part["value"]] >= at, "udev only jumps forward"
                at = labels[part["value"]]
            elif part["sign"] in ("=", "+=") and part["key"] != "LABEL":
                done[part["name"] or part["key"]] = part["value"]
    return done


def device(vendor="1209", product="0001", codes=("00", "00", "00"), interfaces=":ff0000:",
           action="add", subsystem="usb", kind="usb_device"):
    return {"action": action, "subsystem": subsystem,
            "environment": {"DEVTYPE": kind, "ID_USB_INTERFACES": interfaces},
            "attributes": {"idVendor": vendor, "idProduct": product, "bDeviceClass": codes[0],
                           "bDeviceSubClass": codes[1], "bDeviceProtocol": codes[2],
                           "power/control": "auto"}}


class Udev(Journey):
    def test_what_comes_of_them(self):
        rules, seat, awake = read_rules(), {"TAG": "uaccess"}, {"power/control": "on"}
        for given, expected in (
                (device("0fcf", "1008"), seat), (device("0fcf", "1009"), seat),
                (device("0fcf", "1009", action="change"), seat),
                (device("0fcf", "1004"), {}), (device("0fcf", "10091"), {}),
                (device("0fcf", "1008", action="remove"), {}),
                (device("0fcf", "1008", subsystem="tty"), {}),
                (device("0fcf", "1008", kind="usb_interface"), {}),
                (device(codes=("e0", "01", "01")), awake),
                (device(codes=("ef", "02", "01"), interfaces=":0e0100:e00101:fe0101:"), awake),
                (device(codes=("ef", "02", "01"), interfaces=":0e0100:e00102:"), {}),
                (device(codes=("09", "00", "00"), interfaces=":090000:"), {}),
                (device(), {})):
            self.assertEqual(apply(rules, given), expected, given)

    def test_comes_before_the_seat_is_served(self):
        self.assertLess(int(RULES.name.split("-")[0]), SEAT_LATE)

    def test_gives_what_the_program_speaks_with(self):
        table = re.findall(r"\{0x(\w{4}), 0x(\w{4}), (\w+)\}",
                           (ROOT / "src" / "io" / "usb_device.c").read_text())
        self.assertTrue(table)
        for vendor, product, kind in table:
            given = apply(read_rules(), device(vendor.lower(), product.lower()))
            self.assertEqual(given, {"TAG": "uaccess"} if kind == "USB_RECEIVER" else {}, product)

    @unittest.skipIf(shutil.which("udevadm") is None, "there is no udevadm")
    def test_udev_finds_no_fault(self):
        done = subprocess.run(["udevadm", "verify", "--resolve-names=never", RULES],
                              capture_output=True, text=True, check=False)
        if "verify" in done.stderr and "Unknown command" in done.stderr:
            self.skipTest("this udevadm cannot verify; udevadm test reads the rules in tests/vm")
        self.assertEqual(done.returncode, 0, done.stderr)


if __name__ == "__main__":
    main()
