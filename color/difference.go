package color

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// Formula names a colour-difference formula.
type Formula string

// The formulas known here.
const (
	CIEDE2000    Formula = "CIEDE2000"     // ISO/CIE 11664-6, kL = kC = kH = 1
	CIE76        Formula = "CIE76"         // ISO/CIE 11664-4
	CIE94        Formula = "CIE94"         // CIE 116-1995, graphic arts
	CIE94Textile Formula = "CIE94-textile" // CIE 116-1995, textiles, kL = 2
	CMC21        Formula = "CMC(2:1)"      // ISO 105-J03, acceptability
	CMC11        Formula = "CMC(1:1)"      // ISO 105-J03, perceptibility
)

// Formulas lists every formula.
func Formulas() []Formula {
	return []Formula{CIEDE2000, CIE76, CIE94, CIE94Textile, CMC21, CMC11}
}

// ParseFormula reads a formula's name in any case, with or without the
// punctuation, or as "dE00", "dE76", "dE94".
func ParseFormula(s string) (Formula, error) {
	key := formulaKey(s)
	switch key {
	case "de00", "de2000", "ciede00":
		return CIEDE2000, nil
	case "de76", "dab", "deab":
		return CIE76, nil
	case "de94":
		return CIE94, nil
	}
	for _, f := range Formulas() {
		if formulaKey(string(f)) == key {
			return f, nil
		}
	}
	return "", fmt.Errorf("unknown colour-difference formula %q; use one of %s", s, join(Formulas()))
}

func formulaKey(s string) string {
	return strings.NewReplacer("(", "", ")", "", ":", "", "-", "", "_", "", " ", "").Replace(strings.ToLower(s))
}

// Between gives the difference of raw L*, a*, b* by this formula. The error is
// an unknown formula.
func (f Formula) Between(std, sample [3]float64) (float64, error) {
	switch f {
	case CIEDE2000:
		return Delta00(std, sample), nil
	case CIE76:
		return Delta76(std, sample), nil
	case CIE94:
		return Delta94(std, sample, false), nil
	case CIE94Textile:
		return Delta94(std, sample, true), nil
	case CMC21:
		return DeltaCMC(std, sample, 2, 1), nil
	case CMC11:
		return DeltaCMC(std, sample, 1, 1), nil
	}
	return 0, fmt.Errorf("unknown colour-difference formula %q; use one of %s", string(f), join(Formulas()))
}

// Difference is a sample against its standard: the total by a formula and the
// signed CIELAB parts, sample less standard, that a person acts on.
type Difference struct {
	DE      float64 // by Formula
	DL      float64 // lightness, + lighter
	DA      float64 // + redder, - greener
	DB      float64 // + yellower, - bluer
	DC      float64 // chroma, + stronger
	DH      float64 // hue, + from red towards yellow, green, blue and red again
	Formula Formula

	Std, Sample Lab
}

// Compare gives the difference of sample from std. ErrConditions if they are
// stated under different conditions; also an error for an unknown formula.
func Compare(std, sample Lab, f Formula) (Difference, error) {
	if err := same(std.Under, sample.Under); err != nil {
		return Difference{}, err
	}
	x, y := std.Values(), sample.Values()
	de, err := f.Between(x, y)
	if err != nil {
		return Difference{}, err
	}
	d := Difference{DE: de, DA: y[1] - x[1], DB: y[2] - x[2], Formula: f, Std: std, Sample: sample}
	d.DL, d.DC, d.DH = parts(x, y)
	return d, nil
}

// DeltaE00 gives CIEDE2000 between two colours, ErrConditions if they are
// stated under different conditions.
func (x Lab) DeltaE00(y Lab) (float64, error) {
	if err := same(x.Under, y.Under); err != nil {
		return 0, err
	}
	return Delta00(x.Values(), y.Values()), nil
}

const (
	// leastWorded is the part of a difference below which no word is said: a
	// handheld instrument repeats to about half of it (from memory).
	leastWorded = 0.2
	// nearNeutral is the chroma below which a colour counts as a grey, whose
	// hue says little (common practice, no source).
	nearNeutral = 5.0
)

// Words says the difference of the sample in plain words, the largest part
// first: "lighter, weaker, yellower", or "alike" if no part reaches 0.2.
// Stronger and weaker are more and less chroma; hue is named by the neighbour
// it moves towards; near grey, redness and yellowness take their place.
func (d Difference) Words() string { return d.WordsAbove(leastWorded) }

// WordsAbove is Words with a threshold of the caller's own in CIELAB units.
func (d Difference) WordsAbove(threshold float64) string {
	type part struct {
		size float64
		word string
	}
	signed := func(v float64, more, less string) part {
		if v < 0 {
			return part{-v, less}
		}
		return part{v, more}
	}
	said := []part{signed(d.DL, "lighter", "darker")}
	if std, smp := d.Std.LCh(), d.Sample.LCh(); min(std.C, smp.C) < nearNeutral {
		said = append(said, signed(d.DA, "redder", "greener"), signed(d.DB, "yellower", "bluer"))
	} else {
		more, less := hueNeighbours(std.H)
		said = append(said, signed(d.DC, "stronger", "weaker"), signed(d.DH, more, less))
	}
	sort.SliceStable(said, func(i, j int) bool { return said[i].size > said[j].size })
	var words []string
	for _, p := range said {
		if p.size >= threshold && p.size > 0 {
			words = append(words, p.word)
		}
	}
	if words == nil {
		return "alike"
	}
	return strings.Join(words, ", ")
}

// hueNeighbours names the axes of the a*b* plane next to a hue with the turn
// and against it. A hue within a quarter of the way of an axis is a colour of
// that name already, and moves towards the one after it.
func hueNeighbours(degrees float64) (more, less string) {
	names := [4]string{"redder", "yellower", "greener", "bluer"}
	quarter := degrees / 90
	more = names[int(math.Floor(quarter+0.25)+1)%4]
	less = names[(int(math.Ceil(quarter-0.25))+3)%4]
	return more, less
}
