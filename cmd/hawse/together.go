package main

import (
	"runtime"
	"sync"
)

// together does something for every number under n, so many at once, and tells how
// far it is; told may be nil.
func together(jobs, n int, told func(done, of int), do func(i int)) {
	var mu sync.Mutex
	var wg sync.WaitGroup
	next, done := 0, 0
	for range min(jobs, n) {
		wg.Go(func() {
			for {
				mu.Lock()
				i := next
				next++
				mu.Unlock()
				if i >= n {
					return
				}
				do(i)
				mu.Lock()
				if done++; told != nil {
					told(done, n)
				}
				mu.Unlock()
			}
		})
	}
	wg.Wait()
}

// onAllCores is [together] on every core.
func onAllCores(told func(done, of int)) func(n int, do func(i int)) {
	return func(n int, do func(i int)) { together(runtime.GOMAXPROCS(0), n, told, do) }
}
