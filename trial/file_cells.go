package trial

import (
	"bytes"
	"fmt"
)

// checkCells: two load cells on one port must not take one number for that of both.
func (r *fileReader) checkCells(t *Trial) {
	type cell struct {
		table string
		*LoadCell
	}
	all := []cell{{TableLoad, &t.Load}}
	for i := range t.Others {
		all = append(all, cell{t.Others[i].Table, &t.Others[i].LoadCell})
	}
	port := func(c cell) string {
		if c.Wire.On != "" {
			return c.Wire.On
		}
		return c.table
	}
	for i, c := range all {
		for _, b := range all[:i] {
			if port(c) != port(b) || kindSaid(c.Wire.Kind) != kindSaid(b.Wire.Kind) || !r.sound(c.table, b.table) {
				continue
			}
			switch c.Wire.Kind {
			case "":
				if c.Line == b.Line {
					r.failAt(c.table+".line", "is the pattern of "+b.table+", which is on the same port: each line would be taken for both cells",
						"write what tells the lines apart, such as the address before the number, or give it a port of its own")
				}
			case WireAsked:
				if c.Line == b.Line && bytes.Equal(c.Wire.Asked.Ask, b.Wire.Asked.Ask) {
					r.failAt(c.table+".asked.ask", "is the question of "+b.table+", which is on the same port: both cells would be told one number",
						"write the question that only this box answers")
				}
			case WireModbus:
				x, y := c.Wire.Registers, b.Wire.Registers
				if x.Address == y.Address && x.Function == y.Function && x.Register == y.Register {
					r.failAt(c.table+".modbus.address", fmt.Sprintf("is %d, with function %d and register %d, where %s has its number on the same port", x.Address, x.Function, x.Register, b.table),
						"write the address that was set in this unit")
				}
			case WireFrames:
				if c.Wire.Frames.At == b.Wire.Frames.At {
					r.failAt(c.table+".frames.at", fmt.Sprintf("is %d, where %s has its number in the same frames", c.Wire.Frames.At, b.table),
						"write where the number of this cell begins")
				}
			}
		}
	}
}
