package trial

import "slices"

// nearest is the known name a misspelt one most likely stands for, or "".
func nearest(name string, known []string) string {
	best, least := "", 3
	if len(name) > maxName {
		return ""
	}
	for _, k := range known {
		if d := editDistance(name, k); d < least && 3*d <= len(k) {
			best, least = k, d
		}
	}
	return best
}

// editDistance counts the letters to add, drop or change.
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diag := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			diag, row[j+1] = row[j+1], min(row[j+1]+1, row[j]+1, diag+cost)
		}
	}
	return row[len(b)]
}

// once is the list without what was already in it.
func once(list []string) []string {
	var out []string
	for _, s := range list {
		if !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	return out
}
