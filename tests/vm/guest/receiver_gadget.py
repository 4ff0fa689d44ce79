"""The journeys' simulated receiver, plugged into the guest's own USB."""
import errno
import os
import pathlib
import socket
import threading

import receiver
from gadget import BULK, IN, Gadget

# Of receivers that the kernel takes for a serial line: drivers/usb/serial/usb-serial-simple.c.
VENDOR, PRODUCT = 0x0FCF, 0x1008


def find_receiver():
    """Among the kernel's devices; None: it is not there yet."""
    return next((path for path in pathlib.Path("/sys/bus/usb/devices").glob("*-*")
                 if (path / "idProduct").exists()
                 and (path / "idProduct").read_text() == f"{PRODUCT:04x}\n"), None)


def node_of(path):
    return pathlib.Path("/dev/bus/usb") / f"{int((path / 'busnum').read_text()):03d}" / \
        f"{int((path / 'devnum').read_text()):03d}"


class ReceiverGadget(Gadget):
    """Each time it is plugged in, it starts anew; `simulated` is what has the sensors."""

    def __init__(self, folder, key, sensors):
        self.path = folder / "receiver"
        self.simulated = receiver.Receiver(self.path, key, sensors, 1)
        self.link, self.writing = None, threading.Lock()
        super().__init__("receiver", VENDOR, PRODUCT, (0, 0, 0), (0xFF, 0, 0),
                         [(IN | 1, BULK), (2, BULK)])

    def enabled(self):
        self.link = socket.socket(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        self.link.connect(str(self.path))
        for pump in (self.to_host, self.from_host):
            threading.Thread(target=pump, args=(self.link,), daemon=True).start()

    def disabled(self):
        if self.link is not None:
            self.link.shutdown(socket.SHUT_RDWR)
            self.link = None

    def stall(self):
        """Halts the pipe to the host, by the wrong direction (functionfs.rst); with something in
        it the kernel would not, and say nothing."""
        with self.writing:
            try:
                os.read(self.ends[0], 1)
                raise AssertionError("this pipe can be read")
            except OSError as told:
                assert told.errno == errno.EBADMSG, told

    def to_host(self, link):
        try:
            while octets := link.recv(512):
                with self.writing:
                    os.write(self.ends[0], octets)
        except OSError:
            pass  # pulled out

    def from_host(self, link):
        try:
            while True:
                link.send(os.read(self.ends[1], 512))
        except OSError:
            pass
