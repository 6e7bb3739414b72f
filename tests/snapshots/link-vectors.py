#!/usr/bin/env python3
"""Writes the byte vectors of DEVELOPERS.md, "The link", from the description there.

Shares nothing with the Rust code: byte stuffing (Cheshire & Baker 1999), the check (CRC-16/IBM-SDLC
of the catalogue of parametrised CRC algorithms, bit by bit) and postcard's wire format (varints of
seven bits, zigzag for signed numbers, little-endian floats) are written out here.
"""

import struct
import textwrap


def varint(value):
    out = []
    while value > 0x7F:
        out.append(value & 0x7F | 0x80)
        value >>= 7
    return bytes(out + [value])


def zigzag(value):
    return varint(value << 1 if value >= 0 else (-value << 1) - 1)


def f32(value):
    return struct.pack("<f", value)


def flag(value):
    return bytes([value])


def option(value):
    return b"\0" if value is None else b"\1" + value


def text(value):
    return varint(len(value)) + value


def check(content):
    register = 0xFFFF
    for byte in content:
        register ^= byte
        for _ in range(8):
            register = register >> 1 ^ (0x8408 if register & 1 else 0)
    return struct.pack("<H", register ^ 0xFFFF)


def stuff(content):
    out = b""
    for group in content.split(b"\0"):
        while len(group) >= 254:
            out += b"\xff" + group[:254]
            group = group[254:]
        out += bytes([len(group) + 1]) + group
    return out + b"\0"


def sealed(content):
    return stuff(content + check(content))


def frame(id_, body, number):
    return sealed(bytes([1, id_]) + body + bytes([number]))


assert check(b"123456789") == b"\x6e\x90"

OUTLINE = b"".join(map(varint, [1200, 2400, 900, 12, 0, 1100, 0xCBF43926]))
AIR = bytes([1, 0]) + zigzag(-64)
PROBE = bytes([2, 0, 3]) + varint(430) + zigzag(0)
SETTINGS = AIR + option(None) + option(PROBE) + bytes([1, 1, 0, 0, 1, 0]) + varint(230)
ROW = bytes(range(0xA0, 0xAE))
STATUS = (
    bytes([3, 3])
    + varint(4210)
    + option(zigzag(19071))
    + option(zigzag(2404))
    + option(f32(149.5))
    + option(f32(158.25))
    + varint(2460)
    + varint(3600)
    + bytes([7, 1])
    + option(flag(0))
    + option(bytes([3]))
    + option(None)
    + option(bytes([1, 0]) + bytes([42]))
    + option(None)
    + varint(3)
)
TRIPPED = (
    bytes([10, 3])
    + varint(4300)
    + option(None) * 4
    + varint(0) * 2
    + bytes([0, 0])
    + option(None)
    + option(bytes([6]))
    + option(bytes([10]))
    + option(None)
    + option(bytes([4, 10, 0]))
    + varint(0)
)
BAKES = (
    varint(2)
    + varint(1) + option(varint(1760000000)) + varint(10800) + varint(151800) + bytes([1, 1])
    + varint(2) + option(None) + varint(60) + varint(900) + bytes([0, 0])
    + bytes([1])
)

READINESS = (
    option(bytes([8]))
    + option(option(zigzag(64)) + bytes([1]))
    + option(None)
    + option(option(zigzag(2688)) + bytes([3]))
)

VECTORS = [
    ("hello", "the time told: 1760000000", 0x01, option(varint(1760000000)), 1),
    ("status", "", 0x02, b"", 2),
    ("watch", "yes", 0x03, flag(1), 3),
    ("begin", "texts of 1200, 2400, 900, 12, 0 bytes, 1100 compiled, digest cbf43926", 0x04, OUTLINE, 4),
    ("piece", "\"name\" at 224", 0x05, varint(224) + text(b"name"), 5),
    ("commit", "", 0x06, b"", 6),
    ("document", "", 0x07, b"", 7),
    ("read-back", "from 4512 on", 0x08, varint(4512), 8),
    ("settings", "", 0x09, b"", 9),
    ("set-settings", "MAX31856, K, less 0.5 K; on a part Pt100, 3 wires, 430 Ω; door, mirror contact, clock; 230 °C", 0x0A, SETTINGS, 10),
    ("start", "", 0x0B, flag(0), 11),
    ("answer", "fail", 0x0C, bytes([1, 0]), 12),
    ("stop", "", 0x0D, b"", 13),
    ("acknowledge", "the computer stands for GO", 0x0E, flag(1), 14),
    ("bakes", "after 0", 0x0F, varint(0), 15),
    ("fetch", "bake 2 from 65536 on", 0x10, varint(2) + varint(65536), 16),
    ("mark-fetched", "bake 2", 0x11, varint(2), 17),
    ("erase", "all, the not fetched too", 0x12, option(None) + flag(1), 18),
    ("bath", "the second air sensor in water that boils at 98.5 °C", 0x13, bytes([1]) + zigzag(12608), 19),
    ("readiness", "", 0x14, b"", 20),
    ("hello-reply", "firmware 0.1.0, board 0011223344556677, virtual", 0x41, text(b"truesoak") + bytes([0, 1, 0]) + bytes.fromhex("0011223344556677") + varint(1), 1),
    ("status-reply", "the third step soaks, \"anything new\" is asked, an answer \"go\" waits 42 s for GO", 0x42, STATUS, 2),
    ("status-reply-tripped", "drive-welded, and the bake ended by it", 0x42, TRIPPED, 2),
    ("done", "", 0x43, b"", 6),
    ("awaits-go", "60 s", 0x44, bytes([60]), 11),
    ("refused", "a bake runs", 0x45, bytes([0, 0]), 4),
    ("refused-document", "a value of part 2", 0x45, bytes([6, 4, 9, 1]), 6),
    ("refused-frame", "unknown message", 0x45, bytes([1, 5]), 0),
    ("refused-start", "a sensor does not answer", 0x45, bytes([14, 7]), 11),
    ("refused-bath", "the reading is not steady", 0x45, bytes([15, 2]), 19),
    ("document-reply", "as in begin", 0x46, OUTLINE, 7),
    ("piece-reply", "three zeros at 65536", 0x47, varint(65536) + text(bytes(3)), 16),
    ("settings-reply", "as in set-settings", 0x48, SETTINGS, 9),
    ("bakes-reply", "bake 1 of 3 h, finished, fetched; bake 2 of 60 s, cut off; there are more", 0x49, BAKES, 15),
    ("row", "bytes a0 to ad, parts from 149.5 °C, hottest not known, 2460 s", 0x4A, ROW + option(f32(149.5)) + option(None) + varint(2460), 0),
    ("readiness-reply", "a check is due; the air sensor at 0.5 °C has been in ice, the part probe at 21 °C in both", 0x4B, READINESS, 20),
]

whole = bytes([1, 2, 7])
REJECTS = [
    ("bad-stuffing", "a group of four, two of which came", bytes([5, 1, 2, 0])),
    ("too-short", "version and id, no number", sealed(bytes([1, 2]))),
    ("bad-check", "a status whose number was changed", stuff(bytes([1, 2, 6]) + check(whole))),
    ("unknown-version", "version 2", sealed(bytes([2, 2, 7]))),
    ("unknown-message", "id 15", sealed(bytes([1, 0x15, 7]))),
    ("unknown-message", "a reply, sent to the board", sealed(bytes([1, 0x43, 7]))),
    ("bad-body", "a watch of 2", sealed(bytes([1, 3, 2, 7]))),
    ("bad-body", "a fetch without its offset", sealed(bytes([1, 0x10, 7]))),
    ("trailing-bytes", "a status with two numbers", sealed(bytes([1, 2, 7, 7]))),
]


def bits(*fields):
    """Numbers of (value, width), lowest bit first, in the bytes of a row."""
    value, at = 0, 0
    for field, width in fields:
        assert field >> width == 0
        value, at = value | field << at, at + width
    assert at == 14 * 8
    return value.to_bytes(14, "little")


def reading(steps):
    return (0 if steps is None else steps + 273 * 128 + 1, 18)


SECOND = bits(
    (0, 1), (4210, 24), reading(19071), reading(None), reading(-64), (2404 + 50 * 16 + 1, 14),
    (7, 4), (1, 1), (0, 1), (1, 1), (0, 1), (2, 2), (3, 5), (3, 4),
)  # fmt: skip
EVENT = bytes([1]) + struct.pack("<I", 42105) + bytes([11, 3, 0]) + bytes(6)
SUPPLY = bits((3, 8), *map(reading, [1920, 23000, 19500, 60000]), (899, 32))
TICK = bits(
    (5, 8), (16383, 14), *[reading(19071), (1, 3), (2, 4)], *[reading(None), (2, 3)], reading(None),
    (31 * 4 + 55 * 4 + 1, 10), (1, 2), (1, 1), (0, 1), (2, 2), (0, 2), (0, 2), (2, 2), (4, 3), (0, 1),
)  # fmt: skip
CHECKPOINT = (
    varint(4210) + bytes([2]) + varint(2460) + varint(3000) + varint(0) + flag(1)
    + bytes([0, 0, 0, 0, 1]) + bytes(19) + varint(1 << 2) + varint(42000)
    + b"".join(map(f32, [149.5, 171.25, 158.25, 402.0])) + bytes([0, 1]) + option(None)
)
CHECKPOINT += bytes(86 - len(CHECKPOINT))

ROWS = [
    ("second", "4210, air 148.99 °C, probe -0.5, setpoint 150.25, 7 ticks, permit, projected, air flows, step 3, soak", SECOND),
    ("event", "at tick 42105 \"anything new\" is answered by GO", EVENT),
    ("supply-returned", "15, 179.69, 152.34 and 468.75 °C, 899 s kept", SUPPLY),
    ("tick", "16383, air 148.99 °C two ticks old, second sensor open, junction 31 °C, door shut, GO, mirror contact closed, drive on, \"anything new\" asked", TICK),
    ("checkpoint", "second 4210 in step 3, which ended short, 2460 s counted, loaded, one round of step 5", CHECKPOINT + check(CHECKPOINT)),
]


def show(rows):
    for name, says, data in rows:
        print(f"{name}: {says}" if says else name)
        print(textwrap.fill(data.hex(" "), 95, initial_indent="    ", subsequent_indent="    "))


print("```text")
show((name, says, frame(id_, body, number)) for name, says, id_, body, number in VECTORS)
print("```\n\n```text")
show(REJECTS)
print("```")
print("\n```text")
show(ROWS)
print("```")
