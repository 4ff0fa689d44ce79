"""Captures in the btsnoop format from their octets, independent of the program's own code.

Numbers: BlueZ src/shared/btsnoop.c (the file), Bluetooth Core 5.4 Vol 4 Part E 5.4.2 (ACL data) and
7.7 (events), Vol 3 Part A 3.1 (L2CAP); Fitness Machine Service 1.0.1, table 4.9 (bike data).
"""
import struct
from collections import namedtuple

EPOCH_US = 0x00DCDDB30F2F8000
UART, MONITOR = 1002, 2001
PB_CONTINUED, CID_ATT = 1, 4

Packet = namedtuple("Packet", "time_us adapter received event data")  # data without H4 octet
# link: (adapter, handle, how many had them before)
Pdu = namedtuple("Pdu", "time_us link by_peer octets")


def packets(octets):
    """Events and ACL data; ends where the file breaks off."""
    magic, version, datalink = struct.unpack_from(">8sII", octets)
    assert (magic, version) == (b"btsnoop\0", 1) and datalink in (UART, MONITOR)
    at = 16
    while at + 24 <= len(octets):
        length, flags, _, time_us = struct.unpack_from(">4xIIIq", octets, at)
        data = octets[at + 24:at + 24 + length]
        if len(data) < length:
            return
        at += 24 + length
        if datalink == UART and data[0] in (2, 4):
            yield Packet(time_us - EPOCH_US, 0, bool(flags & 1), data[0] == 4, data[1:])
        elif datalink == MONITOR and flags & 0xffff in (3, 4, 5):
            yield Packet(time_us - EPOCH_US, flags >> 16, flags & 0xffff != 4,
                         flags & 0xffff == 3, data)


def connections(octets):
    """(handle, address) of each connection that came up."""
    return [(struct.unpack_from("<H", packet.data, 4)[0], packet.data[8:14])
            for packet in packets(octets)
            if packet.event and packet.data[0] == 0x3e and packet.data[2] in (1, 10)]


def pdus(octets):
    """Attribute PDUs in the order of the file, those in parts put together."""
    begun, ups = {}, {}
    for packet in packets(octets):
        if packet.event:
            if packet.data[0] == 0x3e and packet.data[2] in (1, 10):
                key = packet.adapter, struct.unpack_from("<H", packet.data, 4)[0]
                ups[key] = ups.get(key, -1) + 1
            continue
        head, length = struct.unpack_from("<HH", packet.data)
        if length != len(packet.data) - 4:
            continue
        key = packet.adapter, head & 0xfff
        if head >> 12 & 3 != PB_CONTINUED:
            begun[key, packet.received] = b""
        begun[key, packet.received] = begun.get((key, packet.received), b"") + packet.data[4:]
        whole = begun[key, packet.received]
        wanted, channel = struct.unpack_from("<HH", whole)
        if channel == CID_ATT and wanted > 0 and len(whole) == 4 + wanted:
            yield Pdu(packet.time_us, (*key, ups.get(key, 0)), packet.received, whole[4:])


def bike_data(value):
    """What a record of Indoor Bike Data tells, by name; nothing when the octets do not add up.

    The resistance level has two octets, or one as in the printed tables: the length decides.
    """
    for level in "hB":
        told = _fields(value, level)
        if told is not None:
            return told
    return {}


def _fields(value, level):
    if len(value) < 2:
        return None
    flags, at, told = struct.unpack_from("<H", value)[0], 2, {}
    fields = ((0, "speed", "H"), (1, "average speed", "H"), (2, "cadence", "H"),
              (3, "average cadence", "H"), (4, "distance", "HB"), (5, "level", level),
              (6, "power", "h"), (7, "average power", "h"), (8, "energy", "HHB"), (9, "heart", "B"),
              (10, "equivalent", "B"), (11, "elapsed", "H"), (12, "remaining", "H"))
    for bit, name, form in fields:
        if (flags >> bit & 1) != (bit != 0):
            continue
        if at + struct.calcsize("<" + form) > len(value):
            return None
        parts = struct.unpack_from("<" + form, value, at)
        at += struct.calcsize("<" + form)
        told[name] = parts[0] + (parts[1] << 16) if name == "distance" else parts[0]
    return told if at == len(value) else None
