"""The Attribute Protocol from its bytes, both ends, independent of the program's own code.

Numbers: Bluetooth Core 5.4 Vol 3 Parts F and G, Fitness Machine Service 1.0.1, Assigned Numbers.
"""
import select
import socket
import struct
import threading
import time

from journey import DEADLINE_S, connect

ERROR, MTU_REQ, MTU_RSP = 0x01, 0x02, 0x03
FIND_INFO_REQ, FIND_INFO_RSP = 0x04, 0x05
FIND_VALUE_REQ, FIND_VALUE_RSP = 0x06, 0x07
READ_TYPE_REQ, READ_TYPE_RSP, READ_REQ, READ_RSP = 0x08, 0x09, 0x0A, 0x0B
READ_BLOB_REQ, READ_BLOB_RSP = 0x0C, 0x0D
READ_GROUP_REQ, READ_GROUP_RSP, WRITE_REQ, WRITE_RSP = 0x10, 0x11, 0x12, 0x13
NOTIFY, INDICATE, CONFIRM, WRITE_COMMAND = 0x1B, 0x1D, 0x1E, 0x52
INVALID_HANDLE, NOT_SUPPORTED, NOT_FOUND, UNSUPPORTED_GROUP = 0x01, 0x06, 0x0A, 0x10

PRIMARY, CHARACTERISTIC, CLIENT_CONFIG = 0x2800, 0x2803, 0x2902
FITNESS_MACHINE, HEART_RATE = 0x1826, 0x180D
FEATURE, BIKE_DATA, TRAINING_STATUS = 0x2ACC, 0x2AD2, 0x2AD3
POWER_RANGE, CONTROL_POINT, MACHINE_STATUS = 0x2AD8, 0x2AD9, 0x2ADA
HEART_MEASUREMENT = 0x2A37
GENERIC_ATTRIBUTE, SERVICE_CHANGED, DATABASE_HASH = 0x1801, 0x2A05, 0x2B2A

REQUEST_CONTROL, RESET, SET_LEVEL, SET_POWER = 0x00, 0x01, 0x04, 0x05
START, STOP, RESPONSE = 0x07, 0x08, 0x80
SUCCESS, OP_NOT_SUPPORTED, INVALID_PARAMETER, FAILED, NOT_PERMITTED = 1, 2, 3, 4, 5


class RefusedByPeer(Exception):
    """An Error Response; `code` says why."""

    def __init__(self, code):
        super().__init__(f"error {code:#04x}")
        self.code = code


class Client:
    """A central: discovers, reads, writes, collects what it is told."""

    def __init__(self, path):
        self.link = connect(path)
        self.told = []  # (handle, value) of notifications and indications
        self.confirms = True

    def close(self):
        self.link.close()

    def receive(self):
        pdu = self.link.recv(4096)
        if not pdu:
            raise ConnectionError("the bike closed the link")
        if pdu[0] in (NOTIFY, INDICATE):
            self.told.append((struct.unpack_from("<H", pdu, 1)[0], pdu[3:]))
            if pdu[0] == INDICATE and self.confirms:
                self.link.send(bytes([CONFIRM]))
            return None
        return pdu

    def request(self, pdu):
        self.link.send(pdu)
        while (answer := self.receive()) is None:
            pass
        if answer[0] == ERROR:
            assert answer[1] == pdu[0], "an error for another request"
            raise RefusedByPeer(answer[4])
        assert answer[0] == pdu[0] + 1, f"answer {answer.hex()} to {pdu.hex()}"
        return answer

    def exchange_mtu(self, mtu):
        return struct.unpack("<H", self.request(struct.pack("<BH", MTU_REQ, mtu))[1:])[0]

    def _collect(self, opcode, first, last, kind):
        """All entries of Read By Group Type or Read By Type within the handles."""
        found = []
        while first <= last:
            try:
                answer = self.request(struct.pack("<BHHH", opcode, first, last, kind))
            except RefusedByPeer as refusal:
                if refusal.code != NOT_FOUND:
                    raise
                return found
            size = answer[1]
            entries = [answer[at:at + size] for at in range(2, len(answer), size)]
            found += entries
            at = 2 if opcode == READ_GROUP_REQ else 0
            first = struct.unpack_from("<H", entries[-1], at)[0] + 1
        return found

    def services(self):
        """Assigned number → (first, last handle)."""
        entries = self._collect(READ_GROUP_REQ, 1, 0xFFFF, PRIMARY)
        return {struct.unpack_from("<H", entry, 4)[0]: struct.unpack_from("<HH", entry)
                for entry in entries}

    def characteristics(self, first, last):
        """Assigned number → (handle of the value, properties)."""
        entries = self._collect(READ_TYPE_REQ, first, last, CHARACTERISTIC)
        return {struct.unpack_from("<H", entry, 5)[0]: struct.unpack_from("<xxBH", entry)[::-1]
                for entry in entries}

    def read(self, handle):
        return self.request(struct.pack("<BH", READ_REQ, handle))[1:]

    def write(self, handle, value):
        self.request(struct.pack("<BH", WRITE_REQ, handle) + value)

    def subscribe(self, handle, how):
        """The configuration follows the value here, as in most tables; checked by its type."""
        answer = self.request(struct.pack("<BHH", FIND_INFO_REQ, handle + 1, handle + 1))
        assert struct.unpack_from("<H", answer, 4)[0] == CLIENT_CONFIG
        self.write(handle + 1, struct.pack("<H", how))

    def wait_told(self, handle, wanted=lambda value: True):
        give_up = time.monotonic() + DEADLINE_S
        while time.monotonic() < give_up:
            for i, (told, value) in enumerate(self.told):
                if told == handle and wanted(value):
                    del self.told[:i + 1]
                    return value
            assert self.receive() is None, "an answer that nobody asked for"
        raise AssertionError("never told")

    def command(self, control_point, *octets):
        """Writes a control point procedure and gives the result of its response."""
        self.write(control_point, bytes(octets))
        value = self.wait_told(control_point)
        assert value[:2] == bytes([RESPONSE, octets[0]]), value.hex()
        return value[2]


def bike_power_w(value, level_octets=2):
    """Instantaneous power out of Indoor Bike Data, or None; the service's table 4.9."""
    flags, at = struct.unpack_from("<H", value)[0], 2
    at += 0 if flags & 1 else 2  # speed, unless "more data"
    for bit, size in ((1, 2), (2, 2), (3, 2), (4, 3), (5, level_octets)):
        at += size if flags >> bit & 1 else 0
    return struct.unpack_from("<h", value, at)[0] if flags >> 6 & 1 else None


class Machine(threading.Thread):
    """A fitness machine with an attribute server of its own, in a thread.

    It sends what it is told to brake as power, four times a second of the ride's time. `mischief`
    is called before every record as mischief(machine, ride_s) and may send or change anything.
    With `babble` it sends those packets and closes, whatever it is asked. `meetings` has a word for
    each link that is taken: "serve", or "mute" for one that is held and never answered. With `hash`
    it has a Database Hash, and tells of changes whoever asks for it.
    """

    def __init__(self, listener, rate, mischief=None, mtu=64, babble=None, meetings=("serve",),
                 hash=None):
        super().__init__(daemon=True)
        self.babble, self.meetings, self.hash = babble, meetings, hash
        self.met = []  # the meetings that were, in order
        self.hash_reads, self.refused = 0, []  # writes to what takes none
        self.listener, self.rate, self.mischief, self.mtu_own = listener, rate, mischief, mtu
        self.commands = []  # control point writes
        self.cadence_rpm, self.fault, self.link = 85, None, None
        self.forget()
        self.saw_mtu = None
        self.fill()

    def forget(self):
        """What was agreed ends with the link."""
        self.subscribed = {}
        self.power_w, self.granted, self.mtu = 0, False, 23

    def fill(self, batteries=0):
        """With more of a service before the fitness machine, that one's handles move."""
        self.attributes = []  # (type, value, end of group); handle = index + 1
        self.data, self.control, self.status = self._fill(batteries)

    def _fill(self, batteries):
        """Gaps and order differ from what the program's own bike has."""
        self.changes, *_ = self._service(GENERIC_ATTRIBUTE, [
            (SERVICE_CHANGED, 0x20, b""), (DATABASE_HASH, 0x02, self.hash)]
            if self.hash else []) or [None]
        self._service(0x180F, [(0x2A19, 0x02, b"\x64")] * batteries)
        self._service(0x180A, [(0x2A29, 0x02, b"Invented")])
        data, control, status, *_ = self._service(FITNESS_MACHINE, [
            (BIKE_DATA, 0x10, b""), (CONTROL_POINT, 0x28, b""), (MACHINE_STATUS, 0x10, b""),
            (POWER_RANGE, 0x02, struct.pack("<hhH", 0, 400, 5)),
            # cadence, power; target: power
            (FEATURE, 0x02, struct.pack("<II", 1 << 1 | 1 << 14, 1 << 3))])
        return data, control, status

    def _service(self, number, characteristics):
        at, values = len(self.attributes), []
        self.attributes.append([PRIMARY, struct.pack("<H", number), 0])
        for kind, properties, value in characteristics:
            handle = len(self.attributes) + 2
            values.append(handle)
            self.attributes.append(
                [CHARACTERISTIC, struct.pack("<BHH", properties, handle, kind), 0])
            self.attributes.append([kind, value, 0])
            if properties & 0x30:
                self.attributes.append([0x2901, b"invented", 0])
                self.attributes.append([CLIENT_CONFIG, b"\0\0", 0])
        self.attributes[at][2] = len(self.attributes)
        return values

    def handles(self, service):
        """Of its declaration and its end."""
        return next((at + 1, end) for at, (kind, value, end) in enumerate(self.attributes)
                    if (kind, value) == (PRIMARY, struct.pack("<H", service)))

    # ---- the thread ----

    def run(self):
        try:
            for meeting in self.meetings:
                self._meet(meeting)
        except Exception as fault:  # told by finish()
            self.fault = fault
        finally:
            if self.link is not None:
                self.link.close()
            self.listener.close()

    def _meet(self, meeting):
        self.forget()
        self.link, _ = self.listener.accept()
        self.met.append(meeting)
        try:
            if meeting == "mute":
                while self.link.recv(4096):
                    pass
            elif self.babble is None:
                self._serve()
            for pdu in self.babble or ():
                self.link.send(pdu)
        except (BrokenPipeError, ConnectionResetError):
            pass
        self.link.close()

    def hang_up(self):
        self.link.shutdown(socket.SHUT_RDWR)

    def finish(self):
        self.join(DEADLINE_S)
        assert not self.is_alive(), "the machine still has its link"
        if self.fault is not None:
            raise self.fault

    def _serve(self):
        begun = time.monotonic()
        record = 0
        while True:
            wait_s = begun + record * 0.25 / self.rate - time.monotonic()
            if select.select([self.link], [], [], max(0, wait_s))[0]:
                pdu = self.link.recv(4096)
                if not pdu:
                    return
                self._on_pdu(pdu)
            elif record / 4 < (time.monotonic() - begun) * self.rate + 1:
                record += 1
                if self.mischief is not None:
                    self.mischief(self, record / 4)
                self.send_record()

    def send(self, pdu):
        self.link.send(pdu)

    def notify(self, handle, value):
        if self.subscribed.get(handle) == 1:
            self.send(struct.pack("<BH", NOTIFY, handle) + value)

    def tell_change(self):
        """Service Changed, of all handles."""
        if self.subscribed.get(self.changes) == 2:
            self.send(struct.pack("<BHHH", INDICATE, self.changes, 1, 0xFFFF))

    def send_record(self):
        # Speed, cadence and power; the speed is made up.
        self.notify(self.data, struct.pack("<HHHh", 1 << 2 | 1 << 6, 2500, 2 * self.cadence_rpm,
                                           max(self.power_w, 20)))

    # ---- requests ----

    def _on_pdu(self, pdu):
        opcode = pdu[0]
        if opcode == CONFIRM:
            return
        handler = {MTU_REQ: self._mtu, READ_GROUP_REQ: self._read_group,
                   READ_TYPE_REQ: self._read_type, FIND_INFO_REQ: self._find_info,
                   FIND_VALUE_REQ: self._find_value, READ_REQ: self._read,
                   READ_BLOB_REQ: self._read_blob, WRITE_REQ: self._write}.get(opcode)
        if handler is None:
            self._refuse(opcode, 0, NOT_SUPPORTED)
        else:
            handler(pdu)

    def _refuse(self, opcode, handle, code):
        self.send(struct.pack("<BBHB", ERROR, opcode, handle, code))

    def _mtu(self, pdu):
        self.saw_mtu = struct.unpack("<H", pdu[1:])[0]
        self.mtu = min(self.saw_mtu, self.mtu_own)
        self.send(struct.pack("<BH", MTU_RSP, self.mtu_own))

    def _within(self, first, last, kind=None):
        return [(handle, *self.attributes[handle - 1])
                for handle in range(first, min(last, len(self.attributes)) + 1)
                if kind in (None, self.attributes[handle - 1][0])]

    def _entries(self, opcode, first, entries):
        """As many as fit of those that are as long as the first."""
        if not entries:
            self._refuse(opcode, first, NOT_FOUND)
            return
        size = len(entries[0])
        alike = []
        for entry in entries:
            if len(entry) != size or 2 + size * (len(alike) + 1) > self.mtu:
                break
            alike.append(entry)
        self.send(bytes([opcode + 1, size]) + b"".join(alike))

    def _read_group(self, pdu):
        first, last, kind = struct.unpack("<HHH", pdu[1:])
        if kind != PRIMARY:
            self._refuse(READ_GROUP_REQ, first, UNSUPPORTED_GROUP)
            return
        self._entries(READ_GROUP_REQ, first, [struct.pack("<HH", handle, end) + value for
                                              handle, _, value, end in
                                              self._within(first, last, PRIMARY)])

    def _read_type(self, pdu):
        first, last, kind = struct.unpack("<HHH", pdu[1:])
        self.hash_reads += kind == DATABASE_HASH
        self._entries(READ_TYPE_REQ, first, [struct.pack("<H", handle) + value for
                                             handle, _, value, _ in
                                             self._within(first, last, kind)])

    def _find_info(self, pdu):
        first, last = struct.unpack("<HH", pdu[1:])
        pairs = [struct.pack("<HH", handle, kind)
                 for handle, kind, _, _ in self._within(first, last)]
        if pairs:
            self.send(bytes([FIND_INFO_RSP, 1]) + b"".join(pairs[:(self.mtu - 2) // 4]))
        else:
            self._refuse(FIND_INFO_REQ, first, NOT_FOUND)

    def _find_value(self, pdu):
        first, last, kind = struct.unpack_from("<HHH", pdu, 1)
        pairs = [struct.pack("<HH", handle, end) for handle, _, value, end in
                 self._within(first, last, kind) if value == pdu[7:]]
        if pairs:
            self.send(bytes([FIND_VALUE_RSP]) + b"".join(pairs[:(self.mtu - 1) // 4]))
        else:
            self._refuse(FIND_VALUE_REQ, first, NOT_FOUND)

    def _read(self, pdu):
        handle = struct.unpack("<H", pdu[1:])[0]
        if not 1 <= handle <= len(self.attributes):
            self._refuse(READ_REQ, handle, INVALID_HANDLE)
        else:
            self.send(bytes([READ_RSP]) + self.attributes[handle - 1][1][:self.mtu - 1])

    def _read_blob(self, pdu):
        handle, offset = struct.unpack("<HH", pdu[1:])
        self.send(bytes([READ_BLOB_RSP]) +
                  self.attributes[handle - 1][1][offset:offset + self.mtu - 1])

    def _write(self, pdu):
        handle, value = struct.unpack_from("<H", pdu, 1)[0], pdu[3:]
        if handle == self.control:
            self.send(bytes([WRITE_RSP]))
            self.commands.append(value)
            self._control(value)
        elif self.attributes[handle - 1][0] == CLIENT_CONFIG:
            owner = max(h for h in (self.changes, self.data, self.control, self.status)
                        if h is not None and h < handle)
            self.subscribed[owner] = struct.unpack("<H", value)[0]
            self.send(bytes([WRITE_RSP]))
        else:
            self.refused.append(handle)
            self._refuse(WRITE_REQ, handle, 0x03)

    def _control(self, value):
        result = self._perform(value)
        if self.subscribed.get(self.control) == 2:
            self.send(struct.pack("<BHBBB", INDICATE, self.control, RESPONSE, value[0], result))

    def _perform(self, value):
        if value[0] == REQUEST_CONTROL:
            self.granted = True
        elif not self.granted:
            return NOT_PERMITTED
        elif value[0] == SET_POWER:
            power_w = struct.unpack("<h", value[1:])[0]
            if not 0 <= power_w <= 400 or power_w % 5 != 0:
                return INVALID_PARAMETER
            self.power_w = power_w
        elif value[0] == STOP:
            self.power_w = 0
        elif value[0] not in (START, RESET):
            return OP_NOT_SUPPORTED
        return SUCCESS

    def loads_w(self):
        return [struct.unpack("<h", value[1:])[0] for value in self.commands
                if value[0] == SET_POWER]
