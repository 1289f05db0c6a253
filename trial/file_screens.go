package trial

// Screens is what the trial allows the screens of a capture.
type Screens struct {
	// WatchKeys lets screens that watch use the director's keys; they can always
	// call STOP, and without it nothing else.
	WatchKeys bool
	// Notify is how a screen asks its terminal for a notice on the desktop when a
	// stop or an emergency comes; "" not.
	Notify string
}

// How a terminal is asked for a notice: by the number of the operating system
// command (OSC) it knows. There is no standard of it; common practice, no source.
const (
	NotifyOff    = "off"
	NotifyOSC9   = "osc9"
	NotifyOSC777 = "osc777"
)

// ParseNotify reads a way to ask for a notice; "" for off.
func ParseNotify(s string) (way string, ok bool) {
	switch s {
	case NotifyOff:
		return "", true
	case NotifyOSC9, NotifyOSC777:
		return s, true
	}
	return "", false
}

func (r *fileReader) readScreens(t *Trial, v *fileTable) {
	t.Screens = &Screens{WatchKeys: v.yes(ask{name: "watch_keys", what: "true if screens that watch may use the director's keys", eg: "false", optional: true})}
	notify := ask{name: "notify", what: `how the screen asks its terminal for a notice on the desktop, "off", "osc9" or "osc777"`, eg: `"off"`, optional: true}
	if s := v.text(notify, maxName); s != "" {
		way, ok := ParseNotify(s)
		if !ok {
			v.fail(notify, shown(s)+" is none of them")
		}
		t.Screens.Notify = way
	}
	v.done()
}

// WatchKeys says whether screens that watch may use the director's keys.
func (t *Trial) WatchKeys() bool { return t.Screens != nil && t.Screens.WatchKeys }

// Notify is how a screen asks for a notice on the desktop; "" not.
func (t *Trial) Notify() string {
	if t.Screens == nil {
		return ""
	}
	return t.Screens.Notify
}
