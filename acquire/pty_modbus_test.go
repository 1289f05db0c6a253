//go:build linux

package acquire

import (
	"context"
	"io"
	"os"
	"os/exec"
	"testing"
	"time"

	"hawse/trial"
)

// The server of another implementation, Debian's python3-pymodbus (BSD licence).
const modbusServer = `
import sys, struct
from pymodbus.server import StartSerialServer
from pymodbus.datastore import ModbusSequentialDataBlock, ModbusSlaveContext, ModbusServerContext
from pymodbus.transaction import ModbusRtuFramer
f = list(struct.unpack('>2H', struct.pack('>f', 312.5)))
one = ModbusSlaveContext(ir=ModbusSequentialDataBlock(1, [0]*10 + f[::-1] + [0]*10))
two = ModbusSlaveContext(hr=ModbusSequentialDataBlock(1, list(struct.unpack('>2H', struct.pack('>i', -12345))) + [0]*10))
StartSerialServer(context=ModbusServerContext(slaves={1: one, 2: two}, single=False), framer=ModbusRtuFramer,
    port=sys.argv[1], baudrate=9600, timeout=0.01)
`

// TestPtyModbusServer: two units of another implementation on one line, over
// pseudo-terminals, asked by an owner. Once it is up every question is answered,
// and read as what was put there. It needs python3-pymodbus.
func TestPtyModbusServer(t *testing.T) {
	const python = "/usr/bin/python3"
	if exec.Command(python, "-c", "import pymodbus.server, serial_asyncio").Run() != nil {
		t.Skip("python3-pymodbus is not installed")
	}
	ours, theirs := newWire(t), newWire(t)
	go func() { _, _ = io.Copy(theirs.master, ours.master) }()
	go func() { _, _ = io.Copy(ours.master, theirs.master) }()
	server := exec.Command(python, "-c", modbusServer, theirs.name)
	server.Stderr = os.Stderr
	if err := server.Start(); err != nil {
		t.Skip(err)
	}
	t.Cleanup(func() { _ = server.Process.Kill(); _ = server.Wait() })

	regs := func(unit, fn, at int, holds, order string) trial.Registers {
		return trial.Registers{Address: unit, Function: fn, Register: at, Number: trial.Number{Holds: holds, Order: order, Factor: 1},
			Wait: 100 * time.Millisecond, Late: 500 * time.Millisecond}
	}
	cell := modbusCell(regs(1, 4, 10, "float32", "CDAB"))
	encoder := trial.Encoder{Wire: trial.Wire{Kind: trial.WireModbus, Registers: regs(2, 3, 0, "int32", "ABCD")}}
	on := []trial.Instrument{{Table: "load", Port: trial.Port{Baud: 9600}, Rate: 10, Wire: cell.Wire}, {Table: "line", Rate: 5, Wire: encoder.Wire}}
	load, err := NewLoadDecoder(cell)
	if err != nil {
		t.Fatal(err)
	}
	line, err := NewLineDecoder(encoder)
	if err != nil {
		t.Fatal(err)
	}
	out := make(chan Item, 10000)
	o := NewOwner(OwnerOptions{Src: "load", Port: trial.Port{Names: []string{ours.name}, Baud: 9600, Frame: "8E1"}, Clock: NewClock(), Out: out, Ask: NewAsking(on, nil)})
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	go func() { defer close(out); o.Run(ctx) }()
	recv := NewReception(on, nil)
	asked, loads, lines, bad := 0, 0, 0, 0
	for it := range out {
		switch it.Kind {
		case State:
			recv.Reset(it.T)
		case Sent:
			if loads+lines > 0 { // before it, the server was not up
				asked++
			}
			recv.Sent(it.T, it.Raw)
		case Data:
			recv.Feed(it.T, it.Cut.Raw, func(table string, frame []byte, why string) {
				switch {
				case why != "":
					bad++
				case table == "load":
					if r := load.Decode(frame); r.Kind != Good || r.Indicated != 312.5 {
						t.Errorf("load % x: %+v, want 312.5", frame, r)
					}
					loads++
				default:
					if r := line.Decode(frame); r.Kind != Good || r.Counts != -12345 {
						t.Errorf("line % x: %+v, want -12345", frame, r)
					}
					lines++
				}
			})
			if loads >= 40 && lines >= 20 {
				cancel()
			}
		}
	}
	if loads < 40 || lines < 20 || asked-loads-lines > 2 || bad > 2 {
		t.Errorf("%d asked; %d of the load, %d of the line, %d bad", asked, loads, lines, bad)
	}
}
