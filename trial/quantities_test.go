package trial

import (
	"flag"
	"os"
	"regexp"
	"testing"
)

var updateQuantities = flag.Bool("update-quantities", false, "write QUANTITIES.md anew; read the diff before keeping it")

// Each quantity is said once, whole, and its key is its own.
func TestQuantitiesAreDefined(t *testing.T) {
	plain := regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
	seen := map[string]string{}
	for q := range NumQuantities {
		i := &Quantities[q]
		if i.Key == "" || i.Name == "" || i.What == "" || i.Group == "" {
			t.Errorf("quantity %d is not said: %+v", q, i)
		}
		for j := range Readings {
			key := i.ReadingKey(j)
			if !i.Loads && j > 0 {
				break
			}
			if had := seen[key]; had != "" || !plain.MatchString(key) {
				t.Errorf("%s: key %q is %q's, or no plain word", i.Name, key, had)
			}
			seen[key] = i.Name
		}
		if i.Loads && i.Unit != "N" && i.Unit != "" {
			t.Errorf("%s: a load in %q", i.Name, i.Unit)
		}
		if n := len(i.Name); n > 28 {
			t.Errorf("%s: %d characters, more than its column", i.Name, n)
		}
	}
}

// QUANTITIES.md is made from the code, and is what the code says now.
func TestQuantitiesDoc(t *testing.T) {
	const path = "QUANTITIES.md"
	want := QuantitiesDoc()
	if *updateQuantities {
		if err := os.WriteFile(path, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(path)
	if err != nil || string(got) != want {
		t.Errorf("%s is not what the code says (%v); go test ./trial -run TestQuantitiesDoc -update-quantities", path, err)
	}
}
