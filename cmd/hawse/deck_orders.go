package main

import (
	"bufio"
	"io"
	"strings"

	"hawse/cmd/hawse/system"
)

// ordersFrom reads orders, a line each, until the input ends or a line is longer
// than any order. Its goroutine waits in a read that nothing can end; it goes with
// the program.
func ordersFrom(in io.Reader) <-chan string {
	orders := make(chan string)
	system.IgnoreNoTerminal()
	go func() {
		defer close(orders)
		lines := bufio.NewScanner(in)
		lines.Buffer(nil, 1024)
		for lines.Scan() {
			if order := strings.ToLower(strings.Join(strings.Fields(lines.Text()), " ")); order != "" {
				orders <- order
			}
		}
	}()
	return orders
}
