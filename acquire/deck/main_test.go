package deck

import (
	"flag"
	"testing"

	"go.uber.org/goleak"
)

var update = flag.Bool("update", false, "write the golden files anew")

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }
