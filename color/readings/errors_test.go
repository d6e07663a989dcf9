package readings_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
)

const chipsHeader = "chip,backing,thickness_mm,WH,RD,L_D65,a_D65,b_D65\n"

// A cause that many cells share is told once, with the first rows; other causes
// each have a line, up to twenty.
func TestOneLinePerCauseAndCapped(t *testing.T) {
	var b strings.Builder
	b.WriteString(chipsHeader)
	for i := range 150 {
		fmt.Fprintf(&b, "C%d,white,0,1,x,50,1,1\n", i)
	}
	o := readings.Options{File: "f.csv", KnownPigments: shop()}
	_, err := readings.Chips(strings.NewReader(b.String()), o)
	require.EqualError(t, err, "f.csv:2: C0: column thickness_mm: thickness 0 is not above 0 (and 149 more like it, in rows 3, 4, 5, 6, 7 ...); write the thickness of the piece in mm\n"+
		"f.csv:2: C0: column RD: \"x\" is not a number (and 149 more like it, in rows 3, 4, 5, 6, 7 ...); write a plain number")
	_, err = readings.Chips(strings.NewReader(chipsHeader+"A,,0,-1,x,150,,nan\n"), o)
	require.Len(t, strings.Split(err.Error(), "\n"), 6)

	header := "chip,backing,thickness_mm,WH" // every light lacks an axis
	for _, l := range color.Illuminants() {
		header += fmt.Sprintf(",L_%s_2,L_%s_10", l, l)
	}
	_, err = readings.Chips(strings.NewReader(header+"\nA,white,3,1"+strings.Repeat(",50", 2*len(color.Illuminants()))+"\n"), o)
	lines := strings.Split(err.Error(), "\n")
	require.Len(t, lines, 21)
	require.Equal(t, "... and 28 more like these", lines[20])
	var all *readings.Errors
	require.True(t, errors.As(err, &all))
	require.Equal(t, 28, all.More)
}

// Plain columns take the option; an option against the file is refused.
func TestOptionAgainstTheFile(t *testing.T) {
	o := readings.Options{File: "p.txt", Condition: color.D65Ten()}
	_, err := readings.Samples(openTest(t, "iso28178/pairs.txt"), o)
	require.EqualError(t, err, "p.txt: says illuminant D50, but ⟦illuminant⟧ says D65; leave the option out, or correct the file\n"+
		"p.txt: says observer 2, but ⟦observer⟧ says 10; leave the option out, or correct the file")
}
