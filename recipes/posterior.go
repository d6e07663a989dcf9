package recipes

import (
	"fmt"
	"maps"
	"math"
	"sort"

	"masstone/calibrate"
)

// usualBias is how far the parts of one target deviate alike beyond what the
// calibration's own model error says, in CIEDE2000 units per direction. Common
// practice, no source.
const usualBias = 0.15

// A posterior is what the pours of one target teach, beside the calibration.
type posterior struct {
	cal    *calibrate.Calibration
	target Target
	pours  []Pour
	o      CorrectOptions
	lots   map[string]calibrate.Strength
	bias   float64
}

func newPosterior(cal *calibrate.Calibration, t Target, pours []Pour, o CorrectOptions) (*posterior, error) {
	if len(pours) == 0 {
		return nil, fmt.Errorf("target %q has no pour; pour and read one first", t.Name)
	}
	if !(o.Bias >= 0 && o.Bias < 100) {
		return nil, fmt.Errorf("bias %g; give a difference from 0 up", o.Bias)
	}
	b := &posterior{cal: cal, target: t, o: o, lots: map[string]calibrate.Strength{}, bias: o.Bias}
	if b.bias == 0 {
		b.bias = math.Hypot(usualBias, cal.ModelError.Floor)
	}
	for code, sd := range cal.UsualDrift() {
		b.lots[code] = calibrate.Strength{SD: sd}
	}
	maps.Copy(b.lots, o.Lots)
	names := map[string]bool{}
	for i, p := range pours {
		p, err := p.settle(&t, i)
		if err != nil {
			return nil, err
		}
		if names[p.Name] {
			p.Name = fmt.Sprintf("%s (%d)", p.Name, i+1)
		}
		names[p.Name] = true
		b.pours = append(b.pours, p)
	}
	if n := len(b.cup()); n == 0 || n > MaxPerRecipe {
		return nil, fmt.Errorf("%s holds %d pigments; 1 to %d can be corrected", b.last().Name, n, MaxPerRecipe)
	}
	return b, nil
}

func (b *posterior) last() *Pour { return &b.pours[len(b.pours)-1] }

// cup lists the pigments of the last pour.
func (b *posterior) cup() []string {
	var codes []string
	for code, phr := range b.last().Loadings {
		if phr > 0 {
			codes = append(codes, code)
		}
	}
	sort.Strings(codes)
	return codes
}

// learn returns the calibration that knows the pours. For the pot, what was
// wrongly weighed into it counts as a lot's strength, since it stays in.
func (b *posterior) learn(pot bool) (*calibrate.Calibration, calibrate.Learned, error) {
	lots := maps.Clone(b.lots)
	options := calibrate.LearnOptions{Bias: b.bias, Scatter: b.o.Limits.StrengthScatter, Readings: map[string]int{}}
	var chips []calibrate.Chip
	filled, changing := false, 0
	for i := range b.pours {
		if b.pours[i].changing() {
			changing++
		}
	}
	for i := range b.pours {
		p := &b.pours[i]
		c, err := p.changedChip(changing)
		if err != nil {
			return nil, calibrate.Learned{}, err
		}
		if pot && p.FromPot {
			if !filled {
				for code := range p.Loadings {
					lot := lots[code]
					lot.SD = math.Hypot(lot.SD, p.misweighed(code))
					lots[code] = lot
				}
				filled = true
			}
			c.ScaleGrams = 0
		}
		options.Readings[c.Name] = p.Readings
		chips = append(chips, c)
	}
	prior, err := b.cal.WithLots(lots)
	if err != nil {
		return nil, calibrate.Learned{}, err
	}
	learnt, learned, err := prior.Learn(chips, options)
	for code, s := range learned.Strengths {
		s.Ln += lots[code].Ln
		learned.Strengths[code] = s
	}
	return learnt, learned, err
}
