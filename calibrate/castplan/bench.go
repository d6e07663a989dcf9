package castplan

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"masstone/calibrate"
	"masstone/color"
)

// Bench is how the shop casts and reads a chip.
type Bench struct {
	ChipGrams   calibrate.Grams       // mixed resin in a chip's cup
	ScaleGrams  calibrate.Grams       // smallest step of the scale
	Thickness   calibrate.ThicknessMM // of the chip
	ThicknessSD calibrate.ThicknessMM // its standard deviation, 0 for exact
	Measurement color.Measurement
	Backings    []Backing // what a chip can lie on; the first is the usual one
	// MaxPHR is the most paste in all that the resin bears, 0 if not known.
	MaxPHR calibrate.PHR
	// Most is the most that the resin bears of single pastes, where it is known.
	Most map[string]calibrate.PHR
	// Order is that of the pigments in the names of chips; the others follow by
	// code.
	Order []string
}

// Backing is what lies under a chip when it is read.
type Backing struct {
	Name        string
	Reflectance color.Reflectance
}

// Chip is a chip to cast.
type Chip struct {
	Name     string
	Grams    map[string]calibrate.Grams // paste to weigh by pigment, whole steps of the scale
	Loadings map[string]calibrate.PHR   // what they make in the cup
	Bench    *Bench                     // cup, scale and thickness
	Backing  Backing
}

// Evidence returns the chip without its reading, for a fit to take once Labs
// or Spectrum are filled in.
func (c Chip) Evidence() calibrate.Chip {
	return calibrate.Chip{
		Name: c.Name, Loadings: maps.Clone(c.Loadings),
		Thickness: c.Bench.Thickness, ThicknessSD: c.Bench.ThicknessSD,
		BackingName: c.Backing.Name, Backing: c.Backing.Reflectance, Measurement: c.Bench.Measurement,
		ChipGrams: c.Bench.ChipGrams, ScaleGrams: c.Bench.ScaleGrams,
	}
}

// leastSteps is the least a paste is weighed at: five steps are off by at most
// 10 %, which the plan counts against the chip. Common practice, no source.
const leastSteps = 5

// Check returns an error that says what is missing or impossible.
func (b *Bench) Check() error {
	switch {
	case !(b.ChipGrams > 0 && b.ChipGrams < 1e6):
		return fmt.Errorf("chip of %g g; give the grams of mixed resin in a chip's cup, such as 50", float64(b.ChipGrams))
	case !(b.ScaleGrams > 0) || b.ScaleGrams > b.ChipGrams:
		return fmt.Errorf("scale step of %g g; give the last digit the scale shows, such as 0.01", float64(b.ScaleGrams))
	case !(b.ThicknessSD >= 0) || math.IsInf(float64(b.ThicknessSD), 0):
		return fmt.Errorf("thickness known to %g mm; give its standard deviation, 0 for exact", float64(b.ThicknessSD))
	case !(b.MaxPHR >= 0):
		return fmt.Errorf("at most %g phr; give a positive number, or leave it out", float64(b.MaxPHR))
	case len(b.Backings) == 0:
		return fmt.Errorf("no backing to lay a chip on; give one, such as white")
	}
	for code, most := range b.Most {
		if !(most > 0) {
			return fmt.Errorf("at most %g phr of %s; give a positive number, or leave it out", float64(most), code)
		}
	}
	for i := range b.Backings {
		if err := b.setting(i).Check(); err != nil {
			return fmt.Errorf("backing %s: %w", b.Backings[i].Name, err)
		}
	}
	return nil
}

// setting is how a chip over backing i is seen.
func (b *Bench) setting(i int) calibrate.Setting {
	return calibrate.Setting{Thickness: b.Thickness, Backing: b.Backings[i].Reflectance, Specular: b.Measurement.Specular}
}

// Weigh returns the chip nearest to the wanted loadings that can be weighed:
// every paste a whole number of steps, none below five. ok is false where the
// resin does not bear so much, of one paste or in all.
func (b *Bench) Weigh(wanted map[string]calibrate.PHR, over Backing) (chip Chip, ok bool) {
	chip = Chip{Grams: map[string]calibrate.Grams{}, Loadings: map[string]calibrate.PHR{}, Bench: b, Backing: over}
	for code, phr := range wanted {
		if !(phr > 0) {
			continue
		}
		steps := math.Max(math.Round(float64(phr)/100*float64(b.ChipGrams/b.ScaleGrams)), leastSteps)
		// steps of 0.01 add up to numbers such as 0.07000000000000001
		grams := math.Round(steps*float64(b.ScaleGrams)*1e6) / 1e6
		chip.Grams[code] = calibrate.Grams(grams)
		chip.Loadings[code] = calibrate.PHR(math.Round(grams/float64(b.ChipGrams)*100*1e6) / 1e6)
	}
	chip.Name = b.nameOf(chip.Loadings, over.Name)
	ok = totalOf(chip.Loadings) <= cmp.Or(b.MaxPHR, 100)*1.0001
	for code, phr := range chip.Loadings {
		ok = ok && phr <= b.bears(code)*1.0001
	}
	return chip, ok
}

// bears is the most that the resin takes of a paste.
func (b *Bench) bears(code string) calibrate.PHR {
	return cmp.Or(b.Most[code], calibrate.PHR(math.Inf(1)))
}

// nameOf spells a chip by what is in it, such as "RD0.2-WH1-black".
func (b *Bench) nameOf(loadings map[string]calibrate.PHR, over string) string {
	var parts []string
	place := func(code string) int {
		if i := slices.Index(b.Order, code); i >= 0 {
			return i
		}
		return len(b.Order)
	}
	for _, code := range slices.SortedFunc(maps.Keys(loadings), func(one, other string) int {
		return cmp.Or(cmp.Compare(place(one), place(other)), cmp.Compare(one, other))
	}) {
		parts = append(parts, code+strconv.FormatFloat(float64(loadings[code]), 'g', 4, 64))
	}
	if len(parts) == 0 {
		parts = append(parts, "resin")
	}
	return strings.Join(append(parts, over), "-")
}
