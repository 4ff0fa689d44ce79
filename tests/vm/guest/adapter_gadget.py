"""A Bluetooth adapter on the guest's own USB; btvirt, started with -s, is the controller in it.

How commands, events and data go over USB: Bluetooth Core, Vol 4 Part B, 2.1; over the socket: Part
A, 2.
"""
import os
import socket
import struct
import threading

from gadget import BULK, IN, INTERRUPT, Gadget

SOCKET = "/tmp/bt-server-bredrle"
COMMAND, DATA, EVENT = 1, 2, 4
BLUETOOTH = (0xE0, 1, 1)  # USB-IF, defined class codes
# After the type: octets of the head, and where in it the length of the rest is, and its format.
HEADS = {DATA: (4, 2, "<H"), EVENT: (2, 1, "<B")}


class AdapterGadget(Gadget):
    def __init__(self):
        self.link, self.is_silent = None, False
        super().__init__("adapter", 0x1209, 0x0001, BLUETOOTH, BLUETOOTH,
                         [(IN | 1, INTERRUPT), (IN | 2, BULK), (3, BULK)])

    def enabled(self):
        """As good as new."""
        self.is_silent = False
        self.link = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self.link.connect(SOCKET)
        for pump in (self.to_host, self.from_host):
            threading.Thread(target=pump, args=(self.link,), daemon=True).start()

    def disabled(self):
        if self.link is not None:
            self.link.shutdown(socket.SHUT_RDWR)
            self.link = None

    def setup(self, request):
        if request[0] != 0x20:
            super().setup(request)
            return
        command = os.read(self.ep0, struct.unpack_from("<H", request, 6)[0])
        if not self.is_silent and self.link is not None:
            self.link.send(bytes([COMMAND]) + command)

    def to_host(self, link):
        try:
            with link.makefile("rb") as stream:
                while kind := stream.read(1):
                    size, at, form = HEADS[kind[0]]
                    head = stream.read(size)
                    octets = head + stream.read(struct.unpack_from(form, head, at)[0])
                    os.write(self.ends[0 if kind[0] == EVENT else 1], octets)
        except (OSError, ValueError):
            pass  # pulled out

    def from_host(self, link):
        try:
            while True:
                link.send(bytes([DATA]) + os.read(self.ends[2], 2048))
        except OSError:
            pass
