package papers

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"golang.org/x/text/unicode/norm"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/legible"
)

// The signs of print. Text in a terminal spells most of them in ASCII.
const (
	minus = "\u2212"
	delta = "\u0394"
)

var spelled = strings.NewReplacer(minus, "-", delta, "d", "“", `"`, "”", `"`, "–", "-", "×", "x", "± ", "±", "°", "", "·", "-", "≤", "<=")

// fixed writes a number with that many decimals and the sign of print; a
// number that rounds to nothing has none.
func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	digits := strings.TrimPrefix(s, "-")
	if digits == s || strings.Trim(digits, "0.") == "" {
		return digits
	}
	return minus + digits
}

// signed writes a difference: +0.31, −0.20, 0.00.
func signed(v float64) string {
	s := fixed(v, 2)
	if v > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}

// short writes a number with at most four digits and no trailing zeros.
func short[V ~float64](v V) string { return strconv.FormatFloat(float64(v), 'g', 4, 64) }

// percent writes a share.
func percent(share float64) string { return fixed(100*share, 0) + " %" }

// clockTime writes minutes as 4:20.
func clockTime(minutes float64) string {
	seconds := int(math.Round(minutes * 60))
	return fmt.Sprintf("%d:%02d", seconds/60, seconds%60)
}

// labText is a colour in one line, without its condition.
func labText(c color.Lab) string {
	return fmt.Sprintf("L* %s  a* %s  b* %s", fixed(c.L, 2), fixed(c.A, 2), fixed(c.B, 2))
}

// symbol is how a difference by a formula is written.
func symbol(f color.Formula) string {
	switch f {
	case color.CIEDE2000, "":
		return delta + "E00"
	case color.CIE76:
		return delta + "E*ab"
	case color.CIE94, color.CIE94Textile:
		return delta + "E94"
	}
	return delta + "E " + string(f)
}

func orUsual(f color.Formula) color.Formula {
	if f == "" {
		return color.CIEDE2000
	}
	return f
}

// quoted sets a name off from the words around it.
func quoted(name string) string { return "“" + name + "”" }

// subject is a target and whose it is.
func subject(target, client string) string {
	switch {
	case target == "":
		return client
	case client == "":
		return quoted(target)
	}
	return quoted(target) + " of " + client
}

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// tidy makes foreign text safe to print, and letters with marks one letter
// where there is one.
func tidy(s string) string { return norm.NFC.String(legible.Text(s)) }

// finite refuses what is no number.
func finite(what string, values ...float64) error {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("papers: %s: %g is no number: leave it out or give it", what, v)
		}
	}
	return nil
}

func finiteLab(what string, c *color.Lab) error {
	if c == nil {
		return nil
	}
	return finite(what, c.L, c.A, c.B)
}

// rounded keeps a computed figure in JSON and CSV to 1e-4, so that equal
// papers are equal on every machine.
func rounded(v float64) float64 { return math.Round(v*1e4) / 1e4 }

func phrText(p calibrate.PHR) string { return short(p) }
