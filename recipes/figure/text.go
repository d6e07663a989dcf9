package figure

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Short writes a number in the digits it needs, without those that only
// arithmetic put there.
func Short(v float64) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 12, 64), 64)
	if err != nil {
		rounded = v
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// Grams writes a mass in the digits that a scale of that step shows, such as 1.30 for
// 0.01 g; Short for a step of 0, of a scale that is not known.
func Grams[V, S ~float64](grams V, step S) string {
	if !(step > 0) {
		return Short(float64(grams))
	}
	_, digits, _ := strings.Cut(Short(float64(step)), ".")
	return strconv.FormatFloat(float64(grams), 'f', len(digits), 64)
}

// ByLoading lists the codes of loadings, the largest first.
func ByLoading[V ~float64](loadings map[string]V) []string {
	return slices.SortedFunc(maps.Keys(loadings), func(a, b string) int {
		return cmp.Or(cmp.Compare(loadings[b], loadings[a]), strings.Compare(a, b))
	})
}

// Loadings lists loadings, the largest first: WH 1.02, RD 0.2. An empty list is
// bare resin.
func Loadings[V ~float64](loadings map[string]V) string { return LoadingsAs(loadings, " ", ", ") }

// LoadingsAs lists loadings with what stands between code and amount, and
// between one and the next.
func LoadingsAs[V ~float64](loadings map[string]V, equals, comma string) string {
	var parts []string
	for _, code := range ByLoading(loadings) {
		parts = append(parts, code+equals+strconv.FormatFloat(float64(loadings[code]), 'g', 4, 64))
	}
	if len(parts) == 0 {
		return "bare resin"
	}
	return strings.Join(parts, comma)
}

// Changes lists loadings with how they changed: FG 0.19 (-0.020), WH 1.1 (as before).
func Changes[C, V ~float64](change map[string]C, loadings map[string]V) string {
	var parts []string
	for _, code := range slices.Sorted(maps.Keys(change)) {
		moved := fmt.Sprintf("%+.3f", float64(change[code]))
		if strings.Trim(moved, "+-0.") == "" {
			moved = "as before"
		}
		parts = append(parts, fmt.Sprintf("%s %.4g (%s)", code, float64(loadings[code]), moved))
	}
	return List(parts)
}

// Count writes a number of things: 1 chip, 2 chips.
func Count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// List lists names.
func List(names []string) string { return strings.Join(names, ", ") }

// At is a moment as results give it, RFC 3339 in UTC.
func At(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// Day is the day of a moment in UTC.
func Day(t time.Time) string { return t.UTC().Format(time.DateOnly) }

// Duration writes a time as people say it: 7m, 90s, 1h30m.
func Duration(d time.Duration) string {
	s := d.String()
	if strings.HasSuffix(s, "m0s") {
		s = strings.TrimSuffix(s, "0s")
	}
	if strings.HasSuffix(s, "h0m") {
		s = strings.TrimSuffix(s, "0m")
	}
	return s
}
