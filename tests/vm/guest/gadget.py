"""Devices on USB made by the guest's own kernel: FunctionFS on dummy_hcd, their pipes here.

Descriptors: USB 2.0, 9.6; the files: Linux, Documentation/usb/functionfs.rst and
include/uapi/linux/usb/functionfs.h.
"""
import os
import pathlib
import struct
import subprocess
import sys
import threading

from guest import OUT, TREE, shell, until

CONFIGFS = pathlib.Path("/sys/kernel/config")
DESCRIPTORS, STRINGS = 3, 2  # FUNCTIONFS_…_MAGIC(_V2)
HAS_FULL_SPEED, ALL_RECIPIENTS = 1, 64  # also what is asked of the whole device
BIND, UNBIND, ENABLE, DISABLE, SETUP = range(5)
EVENT_OCTETS = 12
BULK, INTERRUPT, IN = 2, 3, 0x80
FULL_SPEED_PACKET = 64


def start_udev(driver):
    """With our rules beside udev's own, which load the driver once a device is there."""
    if not (TREE / "udev").exists() or subprocess.run(["modprobe", "-n", "-q", driver]).returncode:
        print(f"this guest has no rules for udev, or no module {driver}")
        sys.exit(77)
    shell("""mkdir -p /run/udev/rules.d
             cp "$TREE/udev/70-afterset.rules" /run/udev/rules.d/
             /lib/systemd/systemd-udevd --daemon""")


def load():
    """Full speed is what receivers and adapters have."""
    shell("modprobe -a libcomposite usb_f_fs && modprobe dummy_hcd is_high_speed=0")
    if not CONFIGFS.joinpath("usb_gadget").exists():
        shell(f"mount -t configfs configfs {CONFIGFS}")


def interface(codes, endpoints):
    """`endpoints`: (address, kind), in the order of the files ep1, ep2 and so on."""
    octets = struct.pack("<BBBBBBBBB", 9, 4, 0, 0, len(endpoints), *codes, 0)
    for address, kind in endpoints:
        octets += struct.pack("<BBBBHB", 7, 5, address, kind, FULL_SPEED_PACKET, kind == INTERRUPT)
    return octets


class Gadget(threading.Thread):
    """plug() and unplug() it. Of what derives from it enabled(), disabled() and setup(request)
    are called on the thread that reads events, setup() with the 8 octets (USB 2.0, 9.3)."""

    def __init__(self, name, vendor, product, codes, interface_codes, endpoints):
        super().__init__(daemon=True)
        load()
        name = f"{name}-{OUT.name}"  # what an earlier case had stays in this kernel
        self.folder = CONFIGFS / "usb_gadget" / name
        self.files = pathlib.Path(f"/run/{name}")
        self.endpoints = endpoints
        self.fault, self.enables = None, 0
        self.make_folder(vendor, product, codes, name)
        self.ep0 = os.open(self.files / "ep0", os.O_RDWR)
        body = interface(interface_codes, endpoints)
        os.write(self.ep0, struct.pack("<IIII", DESCRIPTORS, 16 + len(body),
                                       HAS_FULL_SPEED | ALL_RECIPIENTS, 1 + len(endpoints)) + body)
        os.write(self.ep0, struct.pack("<IIII", STRINGS, 16, 0, 0))
        self.ends = [os.open(self.files / f"ep{1 + number}", os.O_RDWR)
                     for number in range(len(endpoints))]
        self.start()

    def make_folder(self, vendor, product, codes, name):
        configuration, function = self.folder / "configs/c.1", self.folder / f"functions/ffs.{name}"
        configuration.mkdir(parents=True)
        function.mkdir()
        for file, value in (("idVendor", vendor), ("idProduct", product), ("bDeviceClass", codes[0]),
                            ("bDeviceSubClass", codes[1]), ("bDeviceProtocol", codes[2])):
            (self.folder / file).write_text(f"{value:#x}")
        (configuration / function.name).symlink_to(function)
        self.files.mkdir()
        subprocess.run(["mount", "-t", "functionfs", name, self.files], check=True)

    def plug(self):
        controller = os.listdir("/sys/class/udc")[0]
        before = self.enables
        (self.folder / "UDC").write_text(controller)
        until(lambda: self.enables > before or self.fault, "the host to take the gadget")
        assert self.fault is None, self.fault

    def unplug(self):
        (self.folder / "UDC").write_text("\n")

    def run(self):
        try:
            while True:
                event = os.read(self.ep0, EVENT_OCTETS)
                kind = event[8]
                if kind == ENABLE:
                    self.enables += 1
                    self.enabled()
                elif kind in (DISABLE, UNBIND):
                    self.disabled()
                elif kind == SETUP:
                    self.setup(event[:8])
        except Exception as fault:  # told by plug()
            self.fault = fault

    def enabled(self):
        pass

    def disabled(self):
        pass

    def setup(self, request):
        """Nothing is known beyond what the kernel answers by itself: a stall (functionfs.rst)."""
        try:
            if request[0] & IN:
                os.read(self.ep0, 0)
            else:
                os.write(self.ep0, b"")
        except OSError:
            pass
