package cli

import (
	"fmt"
	"strings"
)

// Grouped writes a whole number with a comma at each thousand.
func Grouped[T int | int64 | uint64](n T) string {
	s := fmt.Sprint(n)
	sign := ""
	if strings.HasPrefix(s, "-") {
		sign, s = "-", s[1:]
	}
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return sign + s
}
