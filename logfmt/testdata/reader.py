# Reads a raw log, by FORMAT.md alone: python3 reader.py LOG
# For each line it prints "ok NUMBER NANOSECONDS KIND RAW", RAW the bytes of raw= in hexadecimal or
# "-"; "jump" for "ok" if the line does not follow the last good one; "bad" if it proves nothing.
# The last line is "seal good", "seal bad" or "seal none".
import hashlib, re, sys
TABLE = list(range(256))
for _ in range(8):
    TABLE = [v >> 1 ^ (0x82F63B78 if v & 1 else 0) for v in TABLE]
def crc32c(data):
    crc = 0xFFFFFFFF
    for byte in data:
        crc = TABLE[(crc ^ byte) & 255] ^ crc >> 8
    return crc ^ 0xFFFFFFFF

NAME, HEX8 = rb"[a-z][a-z0-9_]*", rb"([0-9a-f]{8})"
VALUE = rb'([A-Za-z0-9_.:+/-]+|"(?:[ !#-\[\]-~]|\\["\\rnt]|\\x[0-9a-f]{2})*")'
FIELD = rb" (" + NAME + rb")=" + VALUE
LINE = re.compile(rb"t=(-?\d+\.\d{9}) n=(\d+) k=(" + NAME + rb")((?:" + FIELD + rb")*) prev=" + HEX8 + rb" crc=" + HEX8)
PLAIN = {b"r": b"\r", b"n": b"\n", b"t": b"\t"}
def unquote(value):
    byte = lambda m: bytes.fromhex(m[1][1:].decode()) if m[1][:1] == b"x" else PLAIN.get(m[1], m[1])
    return re.sub(rb"\\(x..|.)", byte, value[1:-1]) if value[:1] == b'"' else value

sha, size, count, last, seal = hashlib.sha256(), 0, 0, (0, b"00000000"), "none"
for line in open(sys.argv[1], "rb"):
    m = LINE.fullmatch(line.removesuffix(b"\n"))
    if not m or crc32c(line[: m.start(8) - 5]) != int(m[8], 16):
        print("bad")
    else:
        fields = {key: unquote(value) for key, value in reversed(re.findall(FIELD, m[4]))}
        follows = (int(m[2]), m[7]) == (last[0] + 1, last[1])
        raw = fields[b"raw"].hex() if b"raw" in fields else "-"
        print("ok" if follows else "jump", int(m[2]), int(m[1].replace(b".", b"")), m[3].decode(), raw)
        if m[3] == b"end":
            wanted = b"%d %d %s" % (count, size, sha.hexdigest().encode())
            seal = "good" if b" ".join(fields.get(k, b"") for k in (b"count", b"bytes", b"sha256")) == wanted else "bad"
        last = int(m[2]), m[8]
    sha.update(line)
    size, count = size + len(line), count + 1
print("seal", seal)
