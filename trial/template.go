package trial

import _ "embed"

//go:embed template.toml
var templateText string

// Template is the trial file of `hawse new`: complete, every key commented,
// of an invented campaign. It reads without fault and without note, and runs
// on the simulated deck as it stands.
func Template() string { return templateText }
