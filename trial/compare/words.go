package compare

import "strconv"

func number(n int) string { return strconv.Itoa(n) }

func count(n int, of string) string {
	if n == 1 {
		return "1 " + of
	}
	return number(n) + " " + of + "s"
}
