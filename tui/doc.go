// Package tui is the screen on deck: a view ([Stand]) for the winch operator, the
// test director and the data logger each, one of everything, and a sheet of what
// the pull has come to. The alarm line, the order word and STOP are in all of them.
//
// The screen pulls. At its own pace it takes the newest snapshot of a
// [session.View], draws it and hands a person's keys back as acts; nothing
// pushes into it and nothing waits for it. A terminal that is blocked or slow
// costs frames, never a record. A snapshot that stays old is shown as stalled,
// with the tension blanked.
//
// Drawing is pure: the same model gives the same cells. Components draw into a
// rectangle of a cell canvas that cuts what does not fit, so no line is ever
// wider than the terminal. All cell arithmetic is in layout.go and
// layout_stand.go, all styles in styles.go, all keys in keys.go. The lights
// ([Light]) of day and night paint the whole screen, so that the contrast of
// every text is known; what has no sign but in Unicode has one in ascii.go.
//
// The space bar is STOP everywhere, also where words are written: there the
// tabulator writes a blank. An act done for another seat carries that seat, and
// the name of the person at this screen.
//
// Nothing is told by colour alone, no load is ever called safe, and an unknown
// tension is shown as unknown, to be treated as loaded. The screen is an aid:
// the winch's own limiter and emergency stop come first.
//
// Importing the package makes the program start without asking the terminal
// for its colours; see the folder early.
package tui
