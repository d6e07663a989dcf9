package castplan

import (
	"fmt"
	"slices"

	"masstone/calibrate"
	"masstone/color"
)

// Shelf is what a starting plan is made for.
type Shelf struct {
	Pigments []string // all codes, the whites among them
	Whites   []string // the first is the one the others are let down in
	// PerColour is how many chips each colour gets, 1 to 4. 0 stands for the
	// fewest that Reading makes do with: 3 where a chip is read under one light
	// only, else 2. With 1, let Next follow before anything is matched.
	PerColour int
	Reading   Reading
	// Level is the loading of a masstone, or what the resin bears of the paste if
	// that is less. 0 stands for half of what the resin bears, or 2 phr where that
	// is not known.
	Level calibrate.PHR
}

// usualLevel is the loading of a masstone in a resin of unknown limits. Common
// practice, no source.
const usualLevel = 2

// A part is the share of the level of a white and of a colour in one chip.
type part struct {
	white, colour float64
	dark          bool // over the darkest backing
}

// Chips per colour, in shares of the level. The masstone is black or nearly so
// for many colours, and then says little but where they absorb least: the tint
// says how strongly they absorb, the thin film over black how they scatter, and
// the faint tint and the strong letdown what a mixture of the two kinds does.
var (
	masstone = part{colour: 1}
	tint     = part{white: 1, colour: 0.25}
	thin     = part{colour: 0.2, dark: true}
	faintest = part{white: 1, colour: 0.1}
	letdown  = part{white: 0.3, colour: 0.75}

	inWhite = map[int][]part{
		1: {tint},
		2: {masstone, tint},
		3: {masstone, tint, thin},
		4: {masstone, faintest, letdown, thin},
	}
	// without a white only the backing shows how a colour scatters
	alone = map[int][]part{
		1: {thin},
		2: {masstone, thin},
		3: {masstone, thin, {colour: 0.2}},
		4: {masstone, thin, {colour: 0.2}, {colour: 0.5, dark: true}},
	}
	ofWhite = []part{{white: 1}, {white: 0.5, dark: true}}
	// beside one tint each the full white stands in every tint: here one cup, read
	// over both backings, shows how it scatters
	ofWhiteOnce = []part{{white: 0.5}, {white: 0.5, dark: true}}
)

// Start returns the first chips of a shelf that has no calibration yet: the
// bare resin over the lightest and the darkest backing, each white over both,
// and one to four chips per colour. Bare resin and white are few and teach much:
// everything else is mixed into them.
func Start(s Shelf, b *Bench) ([]Chip, error) {
	if err := b.Check(); err != nil {
		return nil, err
	}
	seen := map[string]bool{}
	for _, code := range s.Pigments {
		if code == "" || seen[code] {
			return nil, fmt.Errorf("pigment %q: empty or listed twice", code)
		}
		seen[code] = true
	}
	for _, code := range s.Whites {
		if !seen[code] {
			return nil, fmt.Errorf("white %s is not among the pigments; add it", code)
		}
	}
	if len(s.Pigments) == 0 {
		return nil, fmt.Errorf("no pigments to plan for; name some")
	}
	level, err := s.level(b)
	if err != nil {
		return nil, err
	}
	parts, err := s.parts()
	if err != nil {
		return nil, err
	}
	light, dark := b.extremes()
	l := newList(b)
	l.add(nil, light, dark)
	cast := func(p part, white, colour string) {
		mix := map[string]calibrate.PHR{}
		if p.white > 0 {
			mix[white] = scaled(min(level, b.bears(white)), p.white)
		}
		if p.colour > 0 {
			mix[colour] = scaled(min(level, b.bears(colour)), p.colour)
		}
		over := light
		if p.dark {
			over = dark
		}
		l.add(mix, over)
	}
	whites := ofWhite
	if s.PerColour == 1 {
		whites = ofWhiteOnce
	}
	for _, white := range s.Whites {
		for _, p := range whites {
			cast(p, white, "")
		}
	}
	for _, code := range s.Pigments {
		if slices.Contains(s.Whites, code) {
			continue
		}
		for _, p := range parts {
			white := ""
			if len(s.Whites) > 0 {
				white = s.Whites[0]
			}
			cast(p, white, code)
		}
	}
	return l.chips, nil
}

func (s *Shelf) level(b *Bench) (calibrate.PHR, error) {
	level := s.Level
	if level == 0 {
		level = usualLevel
		if b.MaxPHR > 0 {
			level = b.MaxPHR / 2
		}
	}
	most := calibrate.PHR(50)
	if b.MaxPHR > 0 {
		most = b.MaxPHR
	}
	if strongest := scaled(level, 1.25); !(level > 0) || strongest > most*1.0001 {
		return 0, fmt.Errorf("masstones of %g phr make chips of up to %g; the resin bears %g", float64(level), float64(strongest), float64(most))
	}
	if least := calibrate.PHR(leastSteps * float64(b.ScaleGrams) * 100 / float64(b.ChipGrams)); scaled(level, 0.25) < least {
		return 0, fmt.Errorf("masstones of %g phr need loadings that a scale of %g g cannot weigh into %g g; cast larger chips", float64(level), float64(b.ScaleGrams), float64(b.ChipGrams))
	}
	return level, nil
}

func (s *Shelf) parts() ([]part, error) {
	n := s.PerColour
	if n == 0 {
		n = 2
		if !s.Reading.Spectrum && len(s.Reading.Lights) == 1 {
			n = 3
		}
	}
	sets := inWhite
	if len(s.Whites) == 0 {
		sets = alone
	}
	parts, ok := sets[n]
	if !ok {
		return nil, fmt.Errorf("%d chips per colour; give 1 to 4", n)
	}
	return parts, nil
}

// extremes returns the lightest and the darkest backing.
func (b *Bench) extremes() (light, dark Backing) {
	mean := func(k Backing) (sum float64) {
		for _, r := range k.Reflectance {
			sum += r / color.Bands
		}
		return sum
	}
	light, dark = b.Backings[0], b.Backings[0]
	for _, k := range b.Backings[1:] {
		if mean(k) > mean(light) {
			light = k
		}
		if mean(k) < mean(dark) {
			dark = k
		}
	}
	return light, dark
}
