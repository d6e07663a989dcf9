package castplan

import (
	"slices"

	"masstone/calibrate"
)

// Shares of the strongest loading at which pigments are tried. The pairs of a
// tint or letdown are the white's share and the other's.
var (
	aloneShares  = []float64{1, 0.5, 0.2}
	letdowns     = [][2]float64{{0.5, 0.02}, {0.5, 0.05}, {0.5, 0.1}, {0.5, 0.25}, {0.5, 0.5}, {1, 0.1}, {0.25, 0.25}, {0.15, 0.75}, {0.1, 0.2}}
	mixtureParts = [][2]float64{{0.5, 0.5}, {0.5, 0.1}, {0.1, 0.5}}
	mixtureWhite = []float64{0, 0.3}
)

// Candidates returns the chips worth asking about: the bare resin, every
// pigment alone, in each white from a faint tint to a strong letdown, and every
// two pigments together with and without the first white. All are spread over
// the loadings that the calibration's chips span, a pigment read in faint tints
// only up to half the paste of the strongest chip, and over each backing;
// mixtures of two only over the usual one. A chip whose name is among the
// calibration's chips is left out: cast again it would miss by the same error
// of the model, and teach less than (1) says.
func Candidates(c *calibrate.Calibration, b *Bench, whites []string) ([]Chip, error) {
	if err := b.Check(); err != nil {
		return nil, err
	}
	l := newList(b)
	for _, cast := range c.Chips {
		l.names[cast.Chip] = true
	}
	top := reach(c, b)
	for _, code := range whites {
		if c.Index(code) == 0 {
			return nil, unknown(code, c)
		}
	}
	l.add(map[string]calibrate.PHR{}, b.Backings...)
	var colours []string
	for _, code := range c.Codes() {
		for _, s := range aloneShares {
			l.add(map[string]calibrate.PHR{code: scaled(top(code), s)}, b.Backings...)
		}
		if !slices.Contains(whites, code) {
			colours = append(colours, code)
		}
	}
	for _, white := range whites {
		for _, code := range colours {
			for _, s := range letdowns {
				l.add(map[string]calibrate.PHR{white: scaled(top(white), s[0]), code: scaled(top(code), s[1])}, b.Backings...)
			}
		}
	}
	for i, one := range colours {
		for _, other := range colours[:i] {
			for _, s := range mixtureParts {
				for _, w := range mixtureWhite {
					mix := map[string]calibrate.PHR{one: scaled(top(one), s[0]), other: scaled(top(other), s[1])}
					if w > 0 {
						if len(whites) == 0 {
							continue
						}
						mix[whites[0]] = scaled(top(whites[0]), w)
					}
					l.add(mix, b.Backings[0])
				}
			}
		}
	}
	return l.chips, nil
}

// ChipsOf returns the chips of mixtures over the usual backing, for a plan that
// may cast the very mixtures it is made for. One that the resin does not bear
// is left out.
func ChipsOf(b *Bench, mixtures []Interest) ([]Chip, error) {
	if err := b.Check(); err != nil {
		return nil, err
	}
	l := newList(b)
	for _, m := range mixtures {
		l.add(m.Loadings, b.Backings[0])
	}
	return l.chips, nil
}

// reach returns how strong a pigment is tried: as in its strongest chip, or with
// half the paste of the strongest chip of all, if that is more and the resin
// bears twice as much; never more than it bears of the paste.
func reach(c *calibrate.Calibration, b *Bench) func(code string) calibrate.PHR {
	half := c.MaxTotal / 2
	if b.MaxPHR > 0 {
		half = min(half, b.MaxPHR/2)
	}
	return func(code string) calibrate.PHR { return min(max(c.Curves[c.Index(code)].MaxPHR, half), b.bears(code)) }
}

func scaled(phr calibrate.PHR, share float64) calibrate.PHR { return phr * calibrate.PHR(share) }

// A list of chips, each once.
type list struct {
	bench *Bench
	chips []Chip
	names map[string]bool
}

func newList(b *Bench) *list { return &list{bench: b, names: map[string]bool{}} }

// add puts a chip on the list over each of the backings, unless the resin does
// not bear it or it is there.
func (l *list) add(wanted map[string]calibrate.PHR, over ...Backing) {
	for _, backing := range over {
		if chip, ok := l.bench.Weigh(wanted, backing); ok && !l.names[chip.Name] {
			l.names[chip.Name] = true
			l.chips = append(l.chips, chip)
		}
	}
}
