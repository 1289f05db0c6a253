package logfmt

// VerifyFiles verifies logs as [VerifyFile] does, so many at once, and gives the
// reports in the order of the paths as soon as that order allows.
func VerifyFiles(paths []string, jobs int, give func(path string, rep Report, err error)) {
	type verified struct {
		rep Report
		err error
	}
	jobs = max(min(jobs, len(paths)), 1)
	results := make([]chan verified, len(paths))
	for i := range results {
		results[i] = make(chan verified, 1)
	}
	next := make(chan int)
	for range jobs {
		go func() {
			for i := range next {
				rep, err := VerifyFile(paths[i])
				results[i] <- verified{rep, err}
			}
		}()
	}
	go func() {
		defer close(next)
		for i := range paths {
			next <- i
		}
	}()
	for i := range results {
		v := <-results[i]
		results[i] = nil
		give(paths[i], v.rep, v.err)
	}
}
