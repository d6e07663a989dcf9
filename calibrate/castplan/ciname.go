package castplan

import (
	"regexp"
	"slices"
	"strings"
)

// whiteName is a Colour Index generic name of a white: PW6, Pigment White 6.
var whiteName = regexp.MustCompile(`(?i)^\s*(?:PW|pigment\s+white)\s*([0-9]+)`)

// extenders are the generic names of whites that hide nothing in a resin: chalk,
// clay, baryte, mica, talc, silica and their like. From memory.
var extenders = []string{"18", "19", "20", "21", "22", "24", "25", "26", "27", "33"}

// WhiteByName tells whether a Colour Index generic name is that of a white that
// hides, for a shelf that has no calibration to ask (see Whites).
func WhiteByName(ciName string) bool {
	m := whiteName.FindStringSubmatch(ciName)
	return m != nil && !slices.Contains(extenders, strings.TrimLeft(m[1], "0"))
}
