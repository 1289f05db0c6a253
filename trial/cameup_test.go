package trial

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParseCameUp(t *testing.T) {
	for _, tt := range []struct {
		said, fields, err string // err: in the error
	}{
		{"flukes=part soil_at=flukes soil=stiff clay damage=none fit=once cleaned angle=32.5 deg photo=12 zero=0.03 kN remark=weed = much of it",
			"flukes=part soil_at=flukes soil=stiff-clay damage=none fit=cleaned fluke_rad=0.5672320068981571 photo=12 zero_n=30 remark=weed = much of it", ""},
		{"taken=damage,angle,zero remark=weed", "taken=damage,angle,zero remark=weed", ""},
		{"soil=sand taken=photo", "soil=sand taken=photo", ""},
		{"taken=colour", "", `"colour" is no answer`},
		{"taken=photo,photo", "", "named twice"},
		{"taken=,", "", "no answer"},
		{"taken=taken", "", "no answer"},
		{"photo=7 taken=photo", "", "said and taken back"},
		{"  soil=SAND  ", "soil=sand", ""},
		{"zero=-12 N", "zero_n=-12", ""},
		{"angle=90 deg", "fluke_rad=1.5707963267948966", ""},
		{"", "", "nothing is said"},
		{"clean", "", "does not begin with a key"},
		{"colour=red", "", "does not begin with a key"},
		{"flukes=clean colour=red", "", `"colour=red" does not begin with a key`},
		{"flukes=muddy", "", "say one of clean, part, clogged"},
		{"flukes=", "", "flukes= is empty"},
		{"flukes=clean flukes=part", "", "said twice"},
		{"flukes=clean soil_at=flukes", "", "contradict"},
		{"soil_at=nowhere soil=sand", "", "contradict"},
		{"angle=32.5", "", "deg"},
		{"angle=0 deg", "", "not above 0"},
		{"angle=-3 deg", "", "not above 0"},
		{"angle=91 deg", "", "at most 90"},
		{"photo=../../etc", "", "one plain word"},
		{"photo=a\x1b[2J", "", `"a\x1b[2J"`},
		{"zero=0.03", "", "kN"},
		{"zero=25 kg", "", "mass"},
		{"zero=1e12 kN", "", "no force"},
		{"remark=" + strings.Repeat("x", 301), "", "up to 300 bytes"},
		{"remark=\xff", "", "no text"},
	} {
		c, err := ParseCameUp(tt.said)
		var got []string
		for _, kv := range c.Fields() {
			got = append(got, kv.Key+"="+kv.Val)
		}
		switch {
		case tt.err != "" && (err == nil || !strings.Contains(err.Error(), tt.err)):
			t.Errorf("ParseCameUp(%q): error %v, want one with %q", tt.said, err, tt.err)
		case tt.err == "" && (err != nil || strings.Join(got, " ") != tt.fields):
			t.Errorf("ParseCameUp(%q) = %q, %v; want %q", tt.said, got, err, tt.fields)
		}
		if err != nil {
			continue
		}
		back, err := CameUpFrom(fieldsOf(c))
		if err != nil || back != c {
			t.Errorf("CameUpFrom(fields of %q) = %+v, %v; want %+v", tt.said, back, err, c)
		}
		if back, err := ParseCameUp(c.Typed()); err != nil || back != c {
			t.Errorf("ParseCameUp(%q) = %+v, %v; want %+v", c.Typed(), back, err, c)
		}
	}
}

func fieldsOf(c CameUp) func(string) string {
	m := map[string]string{}
	for _, kv := range c.Fields() {
		m[kv.Key] = kv.Val
	}
	return func(key string) string { return m[key] }
}

// A record that a hostile hand has written is refused, never believed.
func TestCameUpFromBadFields(t *testing.T) {
	for _, bad := range []map[string]string{
		{}, {"flukes": "x"}, {"fluke_rad": "NaN"}, {"fluke_rad": "2"}, {"fluke_rad": "-1"}, {"fluke_rad": "wide"},
		{"zero_n": "+Inf"}, {"zero_n": "NaN"}, {"photo": "a b"},
	} {
		if c, err := CameUpFrom(func(k string) string { return bad[k] }); err == nil {
			t.Errorf("CameUpFrom(%v) = %+v; want an error", bad, c)
		}
	}
}

// The form was one mark in older logs.
func TestParseCameUpMark(t *testing.T) {
	old := "anchor up: flukes partly clogged; soil sat on the flukes; soil stiff clay; damage another: put it in a remark; fluke angle 32.5 deg; photo 7; fit for another pull once cleaned; zero after 0.03 kN, hanging free"
	want := CameUp{Flukes: "part", SoilAt: "flukes", Soil: "stiff-clay", Damage: "other", Fit: "cleaned", Angle: Angle(32.5 * math.Pi / 180), Photo: "7", Zero: 30, Zeroed: true}
	got, ok := ParseCameUpMark(old)
	if d := math.Abs(float64(got.Angle - want.Angle)); d > 1e-15 {
		t.Errorf("angle %v, want %v", got.Angle, want.Angle)
	}
	got.Angle = want.Angle
	if !ok || got != want {
		t.Errorf("ParseCameUpMark(%q) = %+v, %v; want %+v", old, got, ok, want)
	}
	none := "anchor up: flukes clean; soil sat on nowhere; soil none; damage none seen; fluke angle not measured; photo none; fit for another pull as it is; zero after not looked at"
	want = CameUp{Flukes: "clean", SoilAt: "nowhere", Soil: "none", Damage: "none", Fit: "yes"}
	if got, ok := ParseCameUpMark(none); !ok || got != want {
		t.Errorf("ParseCameUpMark(%q) = %+v, %v; want %+v", none, got, ok, want)
	}
	for _, other := range []string{"anchor on bottom", "anchor up: no form", "came up: clean"} {
		if got, ok := ParseCameUpMark(other); ok {
			t.Errorf("ParseCameUpMark(%q) = %+v; want none", other, got)
		}
	}
}

func TestCameUpText(t *testing.T) {
	c, err := ParseCameUp("flukes=part soil_at=flukes soil=sand damage=fluke fit=no angle=32.46 deg photo=3 zero=30 N remark=left fluke")
	if err != nil {
		t.Fatal(err)
	}
	show := Show{Tension: ForceUnit{Name: "kN", N: 1000}}
	want := "flukes partly clogged; soil sat on the flukes; soil sand; damage fluke bent; fluke angle 32.5 deg; fit for another pull no; photo 3; the cell shows 0.03 kN free; left fluke"
	if got := c.Text(show); got != want {
		t.Errorf("Text = %q, want %q", got, want)
	}
}

func FuzzParseCameUp(f *testing.F) {
	f.Add(CameUpForm)
	f.Add("flukes=part angle=1 rad remark==")
	f.Fuzz(func(t *testing.T, s string) {
		ParseCameUpMark(s)
		c, err := ParseCameUp(s)
		if err != nil {
			return
		}
		if back, err := CameUpFrom(fieldsOf(c)); err != nil || back != c {
			t.Errorf("ParseCameUp(%q) = %+v, which comes back as %+v, %v", s, c, back, err)
		}
		if back, err := ParseCameUp(c.Typed()); err != nil || back != c {
			t.Errorf("ParseCameUp(%q) = %+v, typed again %+v, %v", s, c, back, err)
		}
	})
}

// From any form to any other: what is said in between leads there.
func TestCameUpTo(t *testing.T) {
	form := rapid.Custom(func(t *rapid.T) (c CameUp) {
		for _, l := range CameUpLists {
			if i := rapid.IntRange(-1, len(l.Words)-1).Draw(t, l.Key); i >= 0 {
				l.Set(&c, l.Words[i].Word)
			}
		}
		c.Angle = Angle(rapid.SampledFrom([]float64{0, 0.5, 1}).Draw(t, "angle"))
		c.Photo, c.Remark = rapid.SampledFrom([]string{"", "7", "8"}).Draw(t, "photo"), rapid.SampledFrom([]string{"", "weed"}).Draw(t, "remark")
		if c.Zeroed = rapid.Bool().Draw(t, "zeroed"); c.Zeroed {
			c.Zero = Force(rapid.SampledFrom([]float64{0, 30}).Draw(t, "zero"))
		}
		return c
	})
	rapid.Check(t, func(t *rapid.T) {
		from, to := form.Draw(t, "from"), form.Draw(t, "to")
		say := from.To(to)
		if got := from.With(say); got != to {
			t.Fatalf("%+v with %+v is %+v, want %+v", from, say, got, to)
		}
		if (say == CameUp{}) != (from == to) {
			t.Fatalf("from %+v to %+v %+v is said", from, to, say)
		}
		if err := say.checkTaken(); err != nil {
			t.Fatal(err)
		}
	})
}
