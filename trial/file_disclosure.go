package trial

// Disclosure is who stands behind a trial, in the crew's words: what a reader of
// its report must know to weigh it. Nothing in a pull depends on it, and what is
// not said is empty. A test anchor need not be the one in the shop, so where it
// came from and in what state is a part of the result.
type Disclosure struct {
	Paid     string // who paid for the trial
	Supplied string // who supplied the anchors: bought, lent, picked, sharpened
	Ground   string // who chose the ground, and by what
	Ties     string // of the authors to makers or sellers
}

// readDisclosure reads [disclosure], of which every key may be left out.
func (r *fileReader) readDisclosure(t *Trial, v *fileTable) {
	say := func(name, what, eg string) string {
		return v.text(ask{name: name, what: what, eg: eg, optional: true}, maxText)
	}
	t.Disclosure = Disclosure{
		Paid:     say("paid", "who paid for the trial", `"the owners' club"`),
		Supplied: say("supplied", "who supplied the anchors and in what state", `"bought in a shop, as sold"`),
		Ground:   say("ground", "who chose the ground", `"the harbour office"`),
		Ties:     say("ties", "ties of the authors to makers or sellers", `"none"`),
	}
	v.done()
}
