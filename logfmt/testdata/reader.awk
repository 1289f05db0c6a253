# Reads a raw log, by FORMAT.md alone: LC_ALL=C awk -f reader.awk LOG
# It prints the same as reader.py, but for the seal: awk has no SHA-256.
function xor(a, b,   r, p) {
	for (p = 1; a > 0 || b > 0; p *= 16) { r += both[a % 16, b % 16] * p; a = int(a / 16); b = int(b / 16) }
	return r + 0
}
function crc32c(s,   c, i, b) {
	for (c = 4294967295; s != ""; s = substr(s, 2)) {
		b = byte[substr(s, 1, 1)]
		c = xor(step[both[c % 16, b % 16]], int(c / 16))
		c = xor(step[both[c % 16, int(b / 16)]], int(c / 16))
	}
	return sprintf("%04x%04x", (4294967295 - c) / 65536, (4294967295 - c) % 65536)
}
function hexadecimal(s,   out, c) { # of what stands between the quotes
	for (; s != ""; s = substr(s, 2)) {
		c = substr(s, 1, 1)
		if (c != "\\") { out = out sprintf("%02x", byte[c]); continue }
		s = substr(s, 2); c = substr(s, 1, 1)
		if (c == "x") { out = out substr(s, 2, 2); s = substr(s, 3); continue }
		out = out (c == "r" ? "0d" : c == "n" ? "0a" : c == "t" ? "09" : sprintf("%02x", byte[c]))
	}
	return out
}
BEGIN {
	for (i = 0; i < 256; i++) byte[sprintf("%c", i)] = i
	for (i = 0; i < 16; i++) for (j = 0; j < 16; j++) for (p = 1; p < 16; p *= 2)
		both[i, j] += (int(i / p) % 2 != int(j / p) % 2) * p
	for (i = 0; i < 16; i++) { # CRC-32C, four bits at a time
		step[i] = i
		for (j = 0; j < 4; j++) step[i] = step[i] % 2 ? xor(int(step[i] / 2), 2197175160) : step[i] / 2
	}
	prev = "00000000"
}
!/^t=-?[0-9]+\.[0-9]+ n=[0-9]+ k=[a-z]/ || crc32c(substr($0, 1, length($0) - 13)) != substr($0, length($0) - 7) { print "bad"; next }
{
	t = substr($1, 3); n = substr($2, 3); raw = "-"
	sub(/\./, "", t); minus = sub(/^-/, "", t); sub(/^0+/, "", t)
	if (at = index($0, " raw=\"")) { # no value has an unescaped quote in it
		raw = substr($0, at + 6); match(raw, /^([^"\\]|\\.)*/); raw = hexadecimal(substr(raw, 1, RLENGTH))
	}
	print n == last + 1 && substr($0, length($0) - 20, 8) == prev ? "ok" : "jump", n, (minus ? "-" : "") (t == "" ? "0" : t), substr($3, 3), raw
	last = n; prev = substr($0, length($0) - 7)
}
