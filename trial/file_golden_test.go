package trial

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var updateErrors = flag.Bool("update-errors", false, "write testdata/errors.golden anew; read the difference before committing it")

// What the template says of the boxes, to be edited.
const (
	lineBox = "# Port, bits a second and frame as for the load cell.\nport = \"./deck/line\"\nbaud = 9600\nframe = \"8N1\""
	lineIs  = "line = '^N (?P<counts>[+-]?\\d+)$'\n"
	loadIs  = "line = '^(?P<value>[+-]?\\d+(\\.\\d+)?) (?P<unit>kgf)$'\n"
	scaleIs = "scale = \"1000 /m\"\n"
	drumIs  = "[line.drum]\nbarrel = \"200 mm\"\nflange = \"500 mm\"\nwidth = \"400 mm\"\nrope = \"12 mm\"\nper_turn = 500\nholds = \"80 m\"\n"
)

// secondCell adds a further load cell that says so of how it speaks, after other edits.
func secondCell(speaks, table string, edits ...string) []string {
	return append(slices.Clone(edits), "\n# The line counter's box.", "\n[load2]\n"+speaks+`unit = "kgf"
range = "1000 kgf"
over = []
rate = "5 Hz"
place = "link"
serial = "unknown"
filter = "none"
`+table+"[load2.calibration]\nunit = \"kgf\"\ncoefficients = [0.0, 1.0]\nsource = \"invented\"\n\n# The line counter's box.")
}

// The first load cell as a Modbus unit, asked, and in frames.
var (
	cellModbus = []string{loadIs, "kind = \"modbus\"\n", "[load.calibration]", "[load.modbus]\naddress = 1\nregister = 0\nholds = \"int16\"\n[load.calibration]"}
	cellAsked  = []string{loadIs, loadIs + "kind = \"asked\"\n", "[load.calibration]", "[load.asked]\nask = \"W\\r\"\n[load.calibration]"}
	cellFrames = []string{loadIs, "kind = \"frames\"\n", "[load.calibration]", "[load.frames]\nsync = \"AA 55\"\nlength = 12\nchecksum = \"crc16\"\nat = 4\nholds = \"int16\"\n[load.calibration]"}
)

// faults are edits of the template, each pair of texts replaced once, that a
// crew may well make. Their messages stand in testdata/errors.golden, to be
// read as the crew would read them.
var faults = []struct {
	name  string
	edits []string
}{
	{"a key misspelt", []string{`fairlead = "1.5 m"`, `fairlaed = "1.5 m"`}},
	{"a key that is not one", []string{`fairlead = "1.5 m"`, "fairlead = \"1.5 m\"\ncolour = \"red\""}},
	{"a key missing", []string{"name = \"anchor shackle\"    # what the crew calls it\n", ""}},
	{"a table missing", []string{"[vessel]\n# The vessel the winch stands on.\nname = \"workboat (invented)\"\n", "", `fairlead = "1.5 m"`, "", `keep_out = "1 m"`, ""}},
	{"a table misspelt", []string{"[levels]", "[level]"}},
	{"a stage misspelt", []string{"[limits.pull]\n", "[limits.tow]\n"}},
	{"one table where a list is wanted", []string{"[[rode]]\nname = \"low-stretch fibre line\"", "[rode]\nname = \"low-stretch fibre line\""}},
	{"a text for a number", []string{"wll_stop = 0.85", `wll_stop = "0.85"`}},
	{"a number for a text", []string{`serial = "invented-01"`, "serial = 1"}},
	{"a bare number", []string{`fairlead = "1.5 m"`, "fairlead = 1.5"}},
	{"a bare number in quotes", []string{`fairlead = "1.5 m"`, `fairlead = "1.5"`}},
	{"a quantity without quotes", []string{`fairlead = "1.5 m"`, "fairlead = 1.5 m"}},
	{"a mass for a force", []string{`tension_stop = "8.0 kN"`, `tension_stop = "800 kg"`}},
	{"a unit nobody knows", []string{`fairlead = "1.5 m"`, `fairlead = "5 cubits"`}},
	{"a unit in the wrong case", []string{`tension_stop = "8.0 kN"`, `tension_stop = "8.0 KN"`}},
	{"a decimal comma", []string{`tension_stop = "8.0 kN"`, `tension_stop = "8,0 kN"`}},
	{"a slip of the unit", []string{`fairlead = "1.5 m"`, `fairlead = "150 m"`}},
	{"control characters", []string{`serial = "invented-01"`, `serial = "\u001b[2Jall \u202egood"`}},
	{"another format", []string{"format = 1 ", "format = 2 "}},
	{"format not first", []string{"format = 1 ", "name = \"x\"\nformat = 1 ", `name = "Three`, `# name = "Three`}},

	{"a pin with no lead", []string{`range = "1000 kgf"`, "range = \"1000 kgf\"\nsits = \"roller\""}},
	{"a pin under a rode that floats", []string{`keep_out = "1 m"`, "keep_out = \"1 m\"\nlead = \"0 deg\"", `range = "1000 kgf"`, "range = \"1000 kgf\"\nsits = \"roller\"", `weight = "0.3 N/m"`, `weight = "-0.3 N/m"`}},
	{"a cell that sits nowhere", []string{`range = "1000 kgf"`, "range = \"1000 kgf\"\nsits = \"sheave\"\nangle_u = \"1 deg\""}},
	{"a lead straight up", []string{`keep_out = "1 m"`, "keep_out = \"1 m\"\nlead = \"-90 deg\"\nroller_friction = 2"}},

	{"a second cell with a hole in it", []string{"\n# The line counter's box.", "\n[load2]\nport = \"./deck/load\"\nbaud = 9600\nframe = \"8N1\"\nslow_cell = true\n\n# The line counter's box."}},
	{"a second cell whose lines are those of the first", secondCell("on = \"load\"\nline = '^(?P<value>[+-]?\\d+(\\.\\d+)?) (?P<unit>kgf)$'\n", "")},
	{"a second cell that has no line, and those of the first", secondCell("on = \"load\"\n", "")},
	{"a second unit at the address of the first", secondCell("on = \"load\"\nkind = \"modbus\"\n", "[load2.modbus]\naddress = 1\nregister = 0\nholds = \"int16\"\n", cellModbus...)},
	{"a second unit with no register", secondCell("on = \"load\"\nkind = \"modbus\"\n", "[load2.modbus]\naddress = 248\nholds = \"int12\"\n", cellModbus...)},
	{"a second cell asked what the first is", secondCell("on = \"load\"\nkind = \"asked\"\nline = '^(?P<value>[+-]?\\d+(\\.\\d+)?) (?P<unit>kgf)$'\n", "[load2.asked]\nask = \"W\\r\"\n", cellAsked...)},
	{"a second number where the first is", secondCell("on = \"load\"\nkind = \"frames\"\n", "[load2.frames]\nat = 4\nholds = \"int16\"\n", cellFrames...)},
	{"a second cell of another kind on the port of the first", secondCell("on = \"load\"\nkind = \"modbus\"\n", "[load2.modbus]\nregister = 0\nholds = \"int16\"\n")},
	{"a second cell in sentences", secondCell("port = \"./deck/load2\"\nbaud = 9600\nframe = \"8N1\"\nkind = \"nmea\"\n", "")},
	{"no cell that guards", []string{`range = "1000 kgf"`, "range = \"1000 kgf\"\nguards = \"load2\""}},

	{"a pattern without its group", []string{`(?P<value>[+-]?\d+(\.\d+)?)`, `([+-]?\d+(\.\d+)?)`}},
	{"a pattern with a stray group", []string{`(?P<unit>kgf)`, `(?P<einheit>kgf)`}},
	{"a pattern that does not compile", []string{`(?P<counts>[+-]?\d+)$`, `(?P<counts>[+-]?\d+$`}},
	{"a pattern for half a line", []string{`'^N (?P<counts>[+-]?\d+)$'`, `'(?P<counts>[+-]?\d+)'`}},
	{"an alternative that gets loose", []string{`'^N (?P<counts>[+-]?\d+)$'`, `'^N (?P<counts>[+-]?\d+)|x$'`}},
	{"no bits a second", []string{"baud = 9600\n# Data bits", "baud = 0\n# Data bits"}},
	{"a bad frame", []string{"stop bits.\nframe = \"8N1\"", "stop bits.\nframe = \"9N1\""}},
	{"a range of nothing", []string{`range = "1000 kgf"`, `range = "0 kgf"`}},
	{"a haul sign that says neither", []string{`haul = "counts rise"`, `haul = "up"`}},
	{"two boxes on one port", []string{`"./deck/line"`, `"./deck/load"`}},
	{"a box on the port of one that is not there", []string{lineBox, `on = "lode"`}},
	{"a box on its own port", []string{lineBox, `on = "line"`}},
	{"a box on a port, and a port", []string{"[line]\n", "[line]\non = \"load\"\n"}},
	{"a box that shares a line without its group", []string{lineBox, `on = "load"`, "line = '^N (?P<counts>[+-]?\\d+)$'\n", ""}},
	{"two ways to speak on one port", []string{lineBox, "on = \"load\"\nkind = \"modbus\"", "line = '^N (?P<counts>[+-]?\\d+)$'\n", "", "[stop]\n", "[line.modbus]\nregister = 0\nholds = \"int32\"\n[stop]\n"}},
	{"a way to speak nobody knows", []string{"[line]\n", "[line]\nkind = \"morse\"\n"}},
	{"nothing to ask", []string{"[line]\n", "[line]\nkind = \"asked\"\n"}},
	{"an empty question", []string{"[line]\n", "[line]\nkind = \"asked\"\n", "[stop]\n", "[line.asked]\nask = \"\"\nwait = \"1 s\"\nlate = \"0.5 s\"\n[stop]\n"}},
	{"a question of letters that are no bytes", []string{"[line]\n", "[line]\nkind = \"asked\"\n", "[stop]\n", "[line.asked]\nask = \"\u03a9\"\n[stop]\n"}},
	{"registers nobody has", []string{"[line]\n", "[line]\nkind = \"modbus\"\n", lineIs, "", "[stop]\n", "[line.modbus]\naddress = 0\nfunction = 6\nregister = 70000\nholds = \"int32\"\norder = \"ABDC\"\nfactor = 2\n[stop]\n"}},
	{"a factor of nothing, and a reading of nothing", []string{loadIs, "kind = \"modbus\"\n", "[load.calibration]\n", "[load.modbus]\nregister = 0\nholds = \"int64\"\nfactor = 0\n[load.calibration]\n"}},
	{"a float for a count", []string{"[line]\n", "[line]\nkind = \"modbus\"\n", lineIs, "", "[stop]\n", "[line.modbus]\nregister = 0\nholds = \"float32\"\nscale_register = 3\n[stop]\n"}},
	{"a scale too far away", []string{loadIs, "kind = \"modbus\"\n", "[load.calibration]\n", "[load.modbus]\nregister = 0\nholds = \"int16\"\nscale_register = 500\n[load.calibration]\n"}},
	{"asked more often than the line can", []string{loadIs, "kind = \"modbus\"\n", "rate = \"10 Hz\"\n# Where", "rate = \"100 Hz\"\n# Where", "[load.calibration]\n", "[load.modbus]\nregister = 0\nholds = \"int16\"\n[load.calibration]\n"}},
	{"a frame with no room", []string{loadIs, "kind = \"frames\"\n", "[load.calibration]\n", "[load.frames]\nsync = \"AA 5\"\nlength = 8\nchecksum = \"crc16\"\nat = 3\nholds = \"int32\"\n[load.calibration]\n"}},
	{"a frame whose number reaches into the checksum", []string{loadIs, "kind = \"frames\"\n", "[load.calibration]\n", "[load.frames]\nsync = \"AA 55\"\nlength = 8\nchecksum = \"crc16\"\nat = 3\nholds = \"int32\"\nflags_at = 7\nflags_over = 1\n[load.calibration]\n"}},
	{"a frame that could begin anywhere", []string{loadIs, "kind = \"frames\"\n", "[load.calibration]\n", "[load.frames]\nsync = \"AA\"\nlength = 8\nchecksum = \"none\"\nat = 3\nholds = \"int32\"\n[load.calibration]\n"}},
	{"a drum and a scale", []string{"[stop]\n", drumIs + "[stop]\n"}},
	{"a drum that cannot hold the line", []string{scaleIs, "", "[stop]\n", strings.Replace(drumIs, "80 m", "8000 m", 1) + "[stop]\n"}},
	{"a drum narrower than its rope", []string{scaleIs, "", "[stop]\n", strings.Replace(drumIs, "400 mm", "10 mm", 1) + "[stop]\n"}},
	{"layers in no order", []string{scaleIs, "", "[stop]\n", "[[line.layer]]\nfrom = \"1 m\"\nscale = \"900 /m\"\n[[line.layer]]\nfrom = \"1 m\"\nscale = \"900 /m\"\n[stop]\n"}},
	{"a sounder that does not say how deep it hangs", []string{"[stop]\n", "[depth]\nport = \"x\"\nbaud = 4800\nframe = \"8N1\"\ntalker = \"sd\"\n[stop]\n"}},
	{"an antenna on both sides", []string{"[stop]\n", "[position]\nport = \"x\"\nbaud = 4800\nframe = \"8N1\"\nantenna_aft = \"1 m\"\nantenna_ahead = \"2 m\"\nlead = \"400 deg\"\n[stop]\n"}},
	{"a percentage for a friction", []string{"friction = 0.7", "friction = 70"}},
	{"a friction with a unit", []string{"friction = 0.7", `friction = "0.7"`}},
	{"a weight of something on board", []string{"[[gear]]\nname = \"bow roller\"", "[[gear]]\nweight = \"60 N\"\nname = \"bow roller\""}},
	{"no port", []string{`"./deck/line"`, `[]`}},
	{"a slow cell", []string{"rate = \"10 Hz\"\n# Where", "rate = \"0.5 Hz\"\n# Where"}},
	{"a calibration that falls", []string{"coefficients = [0.0, 1.0]", "coefficients = [1.0, 0.0]"}},
	{"a calibration of one number", []string{"coefficients = [0.0, 1.0]", "coefficients = [1.0]"}},
	{"a window too short", []string{`window = "300 ms"`, `window = "120 ms"`}},
	{"a level for a stop output", []string{`kind = "text"`, `kind = "level"`}},
	{"a kind of stop output nobody knows", []string{`kind = "text"`, `kind = "morse"`}},
	{"a pulse train with its line not said", []string{`kind = "text"`, `kind = "pulse"`}},
	{"a pulse train on the data line", []string{`kind = "text"`, "kind = \"pulse\"\nline = \"txd\""}},
	{"a window too short for a pulse train", []string{`kind = "text"`, "kind = \"pulse\"\nline = \"rts\"", `window = "300 ms"`, `window = "250 ms"`}},
	{"a register of a relay that has none", []string{`kind = "text"`, "kind = \"text\"\nbeat_register = 7"}},
	{"a unit of all units", []string{`kind = "text"`, "kind = \"modbus\"\nunit = 0"}},
	{"a register twice", []string{`kind = "text"`, "kind = \"modbus\"\nsession_register = 6\nbeat_register = 7"}},
	{"too few bits a second for Modbus", []string{"[stop]\nport = \"./deck/stop\"\nbaud = 9600", "[stop]\nport = \"./deck/stop\"\nbaud = 4800", `kind = "text"`, `kind = "modbus"`}},
	{"screens that may and may not", []string{"# [screens]", "[screens]", "# watch_keys = false", `watch_keys = "yes"`, `# notify = "off"`, `notify = "loud"`}},
	{"a key of screens misspelt", []string{"# [screens]", "[screens]", "# watch_keys = false", `watch_key = true`}},
	{"horn and relay on one port", []string{`# [horn]`, `[horn]`, `# port = "./deck/horn"`, `port = "./deck/stop"`, `# kind = "level"`, `kind = "level"`, `# line = "rts"`, `line = "rts"`}},
	{"horn and lamp on one coil", []string{`# [horn]`, `[horn]`, `# port = "./deck/horn"`, "port = \"./deck/horn\"\nbaud = 9600\nframe = \"8E1\"", `# kind = "level"`, `kind = "modbus"`, `# line = "rts"`, `lamp_coil = 0`}},

	{"a warning above the stop", []string{`tension_warn = "6.4 kN"`, `tension_warn = "8.5 kN"`}},
	{"a warning above the stop, in shares", []string{"wll_warn = 0.7 ", "wll_warn = 0.9"}},
	{"a lower stop with the warning of another stage", []string{"tension_warn = \"4.0 kN\"\n", ""}},
	{"no warning before the stop", []string{`tension_warn = "6.4 kN"`, "#", "wll_warn = 0.7 ", "# ", "wll_stop = 0.85", "# ", `tension_stop = "8.0 kN"`, "tension_stop = \"8.0 kN\"\nwll_warn = 0.85"}},
	{"a stop above the weakest WLL", []string{`tension_stop = "8.0 kN"`, `tension_stop = "11 kN"`}},
	{"a stop above the range of the cell", []string{`range = "1000 kgf"`, `range = "700 kgf"`}},
	{"a share above one", []string{"wll_stop = 0.85", "wll_stop = 80"}},
	{"a scope under one", []string{"scope_min = 4.0", "scope_min = 0.5"}},
	{"no stop in some stages", []string{`tension_stop = "8.0 kN"`, "#", "wll_stop = 0.85", "# ", "[limits.pull]\n", "[limits.pull]\ntension_stop = \"8 kN\"\n"}},
	{"a least scope in recovery", []string{`tension_stop = "5.0 kN"`, "tension_stop = \"5.0 kN\"\nscope_min = 2"}},
	{"silence warned of too late", []string{`silent_warn = "1 s"         #`, `silent_warn = "3 s"         #`}},
	{"silence longer than any guard may wait", []string{`silent_stop = "2 s"         #`, `silent_stop = "20 s"         #`}},
	{"silence shorter than a period", []string{`silent_warn = "1 s"         #`, `silent_warn = "80 ms"         #`}},
	{"a stage twice in two spellings", []string{"[limits.preset]", "[limits.pay_out]\nhaul = \"1 m\"\n[limits.payout]\nhaul = \"1 m\"\n[limits.preset]"}},

	{"levels the wrong way round", []string{`bare_rode = "0.12 kN"`, `bare_rode = "0.3 kN"`}},
	{"a level near the gear's limit", []string{`dead_weight = "0.25 kN"`, `dead_weight = "25 kN"`}},
	{"a threshold of the phases nobody knows", []string{`break_share = 0.5`, `break_chare = 0.5`}},
	{"a threshold out of its bounds", []string{`plateau_length = "3 m"`, `plateau_length = "30 m"`}},
	{"a slope without its unit", []string{`embed_slope = "0.03 /m"`, `embed_slope = 0.03`}},
	{"a share that is a percentage", []string{`reset_share = 0.7`, `reset_share = 70`}},
	{"half a swing", []string{`saw_count = 3`, `saw_count = 3.5`}},
	{"thresholds the wrong way round", []string{`engaged_level = 2`, `engaged_level = 1.2`}},
	{"an id twice", []string{`id = "B20-31"`, `id = "b20-45"`}},
	{"an id that is a path", []string{`id = "R1"`, `id = "../R1"`}},
	{"gear twice", []string{`name = "swivel"`, `name = "anchor shackle"`}},
	{"a working load that is not what mbl and factor give", []string{"factor = 5 ", "wll = \"12 kN\"\nfactor = 5 "}},
	{"a working load above the breaking load", []string{"factor = 5 ", "wll = \"75 kN\" #"}},
	{"a factor without a breaking load", []string{`mbl = "70 kN" `, `# `}},
	{"a factor of nothing", []string{"factor = 5 ", "factor = 0.5 "}},
	{"a factor with a unit", []string{"factor = 5 ", `factor = "5 kN" `}},
	{"a thing in the rode that says nothing of the roller", []string{"passes = true ", "# "}},
	{"a thing that may not pass, nowhere", []string{`at = "10 m" `, "# ", "passes = true ", "passes = false "}},
	{"a thing past the end of the rode", []string{`at = "10 m" `, `at = "81 m" `}},
	{"a text for yes or no", []string{"passes = true ", `passes = "no" `}},
	{"nothing to keep out", []string{`keep_out = "1 m"`, `keep_out = "0 m"`}},
	{"a display step like the range", []string{`step = "0.1 kgf"`, `step = "100 kgf"`}},
	{"a depth of the day that leaves out the planned one", []string{`depth_min = "5.8 m" `, `depth_min = "6.5 m" `, `depth_max = "7.5 m" `, `depth_max = "5.5 m" `}},
	{"half a winch", []string{`run_on = "0.5 s"`, ""}},
	{"a winch that takes hours", []string{`run_on = "0.5 s"`, `run_on = "0.5 h"`}},
	{"warned of later than stopped", []string{`soon_warn = "3 s"`, "soon_warn = \"3 s\"\nsoon_stop = \"5 s\""}},
	{"an end by tension past the stop", []string{"[limits.pull]\n", "[limits.pull]\ntension_end = \"8.0 kN\"\n"}},
	{"an end by tension in every stage", []string{"come_up = 1.0", "come_up = 1.0\ntension_end = \"2 kN\""}},
	{"an end by tension, and coming up, in recovery", []string{`tension_stop = "5.0 kN"`, "tension_stop = \"5.0 kN\"\ntension_end = \"3 kN\"\ncome_up = 1.0"}},
	{"coming up, never", []string{"come_up = 1.0", "come_up = 0"}},
	{"a run with an unknown anchor", []string{"id = \"A1\"\nkind = \"pull\"\nanchor = \"A16\"", "id = \"A1\"\nkind = \"pull\"\nanchor = \"D9\""}},
	{"a run at an unknown station", []string{"anchor = \"B20-45\"\nstation = \"Alder Flat\"", "anchor = \"B20-45\"\nstation = \"Alder Flats\""}},
	{"a run of no kind", []string{`kind = "dead weight"`, `kind = "chain"`}},
	{"a bare rode run with an anchor", []string{`kind = "bare rode"`, "anchor = \"A16\"\nkind = \"bare rode\""}},
	{"a pull without an anchor", []string{"anchor = \"C11\"\n", ""}},
	{"more out than there is rode", []string{`payout = "60 m"            #`, `payout = "90 m"            #`}},
	{"too little out to reach the bottom", []string{`payout = "60 m"            #`, `payout = "7 m"            #`}},
	{"too little out for the least scope", []string{`payout = "60 m"            #`, `payout = "25 m"            #`}},
	{"more to haul than leaves a rode", []string{"scope_min = 4.0", "#", `haul = "35 m"`, `haul = "55 m"`}},

	{"several at once", []string{`fairlead = "1.5 m"`, "fairlead = 1.5", `serial = "invented-01"`, "serial = 7", `bare_rode = "0.12 kN"`, `bare_rode = "0.12 kg"`,
		`kind = "dead weight"`, `kind = "chain"`, "\n[show]", "\n[shw]"}},
	{"a key twice", []string{`fairlead = "1.5 m"`, "fairlead = \"1.5 m\"\nfairlead = \"1.6 m\""}},
	{"a key twice in braces", []string{"[load.calibration]\n", "[load.calibration]\nx = {a = 1, a = 2}\n"}},
	{"a table twice", []string{"# Slow haul to seat", "[vessel]\nfairlead = \"2 m\"\n# Slow haul to seat"}},
	{"writing that is not TOML, twice, and another fault", []string{`fairlead = "1.5 m"`, `fairlead: 1.5 m`, "[limits.pull]\n", "[limits.pull\n", `depth = "6.0 m"         #`, `depth = "6.0 kN"         #`}},
	{"a quote that is not closed", []string{`serial = "invented-01"`, `serial = "invented-01`}},
	{"a list that is not closed", []string{`over = ["OL"]`, `over = ["OL"`}},
	{"a date that does not exist", []string{`serial = "invented-01"`, "serial = 2026-02-31"}},
}

func TestErrorMessages(t *testing.T) {
	var b strings.Builder
	b.WriteString("What the trial file's reader says to each of these edits of the template.\n")
	for _, f := range faults {
		tr, err := ParseTrial("trial.toml", []byte(edited(t, f.edits...)))
		errs, ok := errors.AsType[FileErrors](err)
		if !ok || len(errs) == 0 || tr != nil {
			t.Errorf("%s: %v, %v; want a FileErrors", f.name, tr, err)
			continue
		}
		fmt.Fprintf(&b, "\n# %s\n%v\n", f.name, err)
	}
	for _, whole := range []struct {
		name, text string
	}{
		{"an empty file", ""},
		{"only a comment", "# nothing\n"},
		{"not text", "format = 1\nname = \"\xff\"\n"},
		{"another file altogether", "The quick brown fox\njumps over the lazy dog.\n"},
		{"a file too long", "#" + strings.Repeat("x", maxFileBytes)},
	} {
		_, err := ParseTrial("trial.toml", []byte(whole.text))
		if err == nil {
			t.Errorf("%s: read without fault", whole.name)
		}
		fmt.Fprintf(&b, "\n# %s\n%v\n", whole.name, err)
	}
	const path = "testdata/errors.golden"
	if *updateErrors {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), b.String()); diff != "" {
		t.Errorf("messages (-want +got); -update-errors writes them anew:\n%s", diff)
	}
}

// A caller that wants one fault finds it by type, and a file with a name of
// control characters cannot draw on the terminal.
func TestFileErrorsUnwrap(t *testing.T) {
	_, err := ParseTrial("a\x1b[2J.toml", []byte(edited(t, `fairlead = "1.5 m"`, "fairlead = 1.5")))
	fe, ok := errors.AsType[*FileError](err)
	if !ok || fe.Key != "vessel.fairlead" || fe.Line == 0 {
		t.Fatalf("errors.AsType[*FileError](%v) = %+v, %v", err, fe, ok)
	}
	if strings.ContainsRune(err.Error(), '\x1b') {
		t.Errorf("%q carries a control character", err)
	}
}

func TestFileErrorsAreCut(t *testing.T) {
	text := Template()
	for i := range 300 {
		text = strings.Replace(text, "\n[show]", fmt.Sprintf("\nx%d = 1\n[show]", i), 1)
	}
	_, err := ParseTrial("t.toml", []byte(text))
	errs, _ := errors.AsType[FileErrors](err)
	if len(errs) != 300 {
		t.Errorf("%d faults, want 300", len(errs))
	}
	if n := strings.Count(err.Error(), "\n"); n != maxErrorsShown || !strings.HasSuffix(err.Error(), "and 200 more") {
		t.Errorf("%d lines shown, ending in %q", n+1, err.Error()[len(err.Error())-20:])
	}
}
