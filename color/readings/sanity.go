package readings

import (
	"fmt"
	"math"
	"regexp"

	"masstone/color"
	"masstone/color/remedy"
)

// When a doubtful reading is told, and when it is refused. The first is the
// repeatability of handheld instruments and of the weights they compute Lab
// with; the second is beyond any of that. From memory.
const (
	disagreeWarn, disagreeRefuse   = 0.3, 3.0 // CIEDE2000 of a spectrum against the Lab beside it
	impossibleWarn, impossibleFail = 1.0, 5.0 // chroma beyond what a surface can have
	leastWhite                     = 85.0     // L* of a white tile that is clean and well read
	shown                          = 5        // rows of one warning told one by one
)

var whiteTile = regexp.MustCompile(`(?i)\b(white|calibration|ceramic)[ _-]*(tile|standard|reference|plaque|ceramic)\b`)

// checker judges rows against physics and against each other.
type checker struct {
	file     string
	problems *problems
	solids   map[color.Condition]*solid
	weights  map[color.Condition]*color.Weights
	weigher  map[color.Condition]*weigher
	seen     map[string]Row // by the numbers of the reading
	differ   []disagreement
	warnings []*RowError
	same     int
	beyond   int
}

// disagreement is a row whose spectrum and Lab differ.
type disagreement struct {
	row   Row
	under color.Condition
	de    float64
}

func newChecker(p *problems) *checker {
	return &checker{file: p.file, problems: p, solids: map[color.Condition]*solid{}, weights: map[color.Condition]*color.Weights{}, weigher: map[color.Condition]*weigher{}, seen: map[string]Row{}}
}

// Judge looks at readings that did not come from a file, such as typed ones, as
// files are looked at: warnings for doubtful ones, an *Errors for those that
// cannot be. file is the name used in messages.
func Judge(file string, rows []Row) (warnings []*RowError, err error) {
	p := &problems{file: file}
	c := newChecker(p)
	for _, r := range rows {
		for _, lab := range r.Labs {
			if err := lab.Under.Check(); err != nil {
				p.add(r.Line, r.Name, "", err.Error(), "")
			} else if !(lab.L >= 0 && lab.L <= 100) || !(math.Abs(lab.A) <= maxChroma) || !(math.Abs(lab.B) <= maxChroma) {
				p.add(r.Line, r.Name, "", fmt.Sprintf("L* a* b* of %s, %s, %s is impossible", plain(lab.L), plain(lab.A), plain(lab.B)), "L* lies in 0..100; read the piece again")
			}
		}
		if r.Spectrum != nil {
			if err := r.Spectrum.Check(); err != nil {
				p.add(r.Line, r.Name, "", err.Error(), "")
			}
		}
	}
	if err := p.err(); err != nil {
		return nil, err
	}
	for _, r := range rows {
		c.check(r)
	}
	return c.finish(), p.err()
}

func (c *checker) warn(row Row, problem, hint string) {
	c.warnings = append(c.warnings, &RowError{File: c.file, Row: row.Line, Name: row.Name, Problem: problem, Hint: hint})
}

// check looks at one complete row.
func (c *checker) check(row Row) {
	c.tile(row)
	c.repeated(row)
	for _, lab := range row.Labs {
		c.possible(row, lab)
	}
	if row.Spectrum != nil {
		c.agree(row)
	}
}

func (c *checker) tile(row Row) {
	if !whiteTile.MatchString(row.Name) {
		return
	}
	dark := func(l float64) bool {
		if l < leastWhite {
			c.warn(row, fmt.Sprintf("a white tile of L* %s is dark", plain(l)), "clean it, calibrate the instrument and read again")
			return true
		}
		return false
	}
	for _, lab := range row.Labs {
		if dark(lab.L) {
			return
		}
	}
	if len(row.Labs) == 0 && row.Spectrum != nil {
		if lab, err := row.Spectrum.Lab(color.D65Ten()); err == nil {
			dark(lab.L)
		}
	}
}

// repeated finds readings whose every digit agrees: one pasted twice, since
// hardly any instrument repeats itself so well.
func (c *checker) repeated(row Row) {
	if len(row.Labs) == 0 && row.Spectrum == nil {
		return
	}
	key := []byte{}
	for _, l := range row.Labs {
		key = fmt.Appendf(key, "%v ", l)
	}
	if row.Spectrum != nil {
		key = fmt.Appendf(key, "%d %d %v", row.Spectrum.FirstNM, row.Spectrum.StepNM, row.Spectrum.R)
	}
	first, dup := c.seen[string(key)]
	if !dup {
		c.seen[string(key)] = row
		return
	}
	if first.Name == row.Name && row.Spectrum == nil {
		return // Lab of one decimal does repeat on one piece
	}
	if c.same++; c.same <= shown {
		c.warn(row, fmt.Sprintf("is the reading of row %d (%s) to the last digit", first.Line, oneLine(first.Name, 40)), "was it pasted twice?")
	}
}

// possible refuses a Lab that no surface can have.
func (c *checker) possible(row Row, lab color.Lab) {
	s, ok := c.solids[lab.Under]
	if !ok {
		var err error
		if s, err = solidOf(lab.Under); err != nil {
			c.problems.add(row.Line, row.Name, "", err.Error(), "")
		}
		c.solids[lab.Under] = s
	}
	if s == nil {
		return
	}
	excess, limit, err := s.beyond(lab)
	if err != nil || excess <= 0 {
		return
	}
	problem := fmt.Sprintf("chroma %.1f at L* %.1f: no surface passes %.1f there under %s", excess+limit, lab.L, limit, lab.Under)
	switch {
	case excess > impossibleFail:
		c.problems.add(row.Line, row.Name, "", problem, "check columns and illuminant; a piece that fluoresces cannot be used")
	case excess > impossibleWarn:
		if c.beyond++; c.beyond <= shown {
			c.warn(row, problem, "read the piece again; does it fluoresce?")
		}
	}
}

// agree compares a spectrum with the Lab of the same row.
func (c *checker) agree(row Row) {
	worst := disagreement{row: row}
	for _, lab := range row.Labs {
		own, err := c.lab(*row.Spectrum, lab.Under)
		if err != nil {
			c.problems.add(row.Line, row.Name, "", err.Error(), "")
			return
		}
		if de := color.Delta00(own.Values(), lab.Values()); de > worst.de {
			worst.de, worst.under = de, lab.Under
		}
	}
	switch {
	case worst.de > disagreeRefuse:
		c.problems.add(row.Line, row.Name, "", worst.text(), c.otherLight(worst))
	case worst.de > disagreeWarn:
		c.differ = append(c.differ, worst)
	}
}

func (d disagreement) text() string {
	return fmt.Sprintf("Lab under %s and spectrum differ by CIEDE2000 %.2f", d.under, d.de)
}

// otherLight names the condition the Lab would fit.
func (c *checker) otherLight(d disagreement) string {
	for _, lab := range d.row.Labs {
		if lab.Under != d.under {
			continue
		}
		for _, illuminant := range color.Illuminants() {
			for _, observer := range []color.Observer{color.TwoDegree, color.TenDegree} {
				under := color.Under(illuminant, observer)
				own, err := c.lab(*d.row.Spectrum, under)
				if err == nil && color.Delta00(own.Values(), lab.Values()) <= disagreeWarn {
					return fmt.Sprintf("the Lab fits %s: correct the header or say %s %s", under, remedy.InputAs("illuminant", string(illuminant)), remedy.InputAs("observer", fmt.Sprint(int(observer))))
				}
			}
		}
	}
	return "they are of two pieces or two specular modes; delete the wrong one"
}

// finish adds what only the whole file tells.
func (c *checker) finish() []*RowError {
	worst := disagreement{}
	for i, d := range c.differ {
		if d.de > worst.de {
			worst = d
		}
		if i < shown {
			hint := "both are used; read the piece again if in doubt"
			if d.de > 3*disagreeWarn {
				hint = c.otherLight(d)
			}
			c.warn(d.row, d.text(), hint)
		}
	}
	if n := len(c.differ); n > shown {
		c.warn(Row{}, fmt.Sprintf("Lab and spectrum differ by more than %s in %d rows, most in row %d (%s, %.2f under %s)", plain(disagreeWarn), n, worst.row.Line, oneLine(worst.row.Name, 40), worst.de, worst.under), "")
	}
	if c.same > shown {
		c.warn(Row{}, fmt.Sprintf("%d rows repeat another row to the last digit", c.same), "")
	}
	if c.beyond > shown {
		c.warn(Row{}, fmt.Sprintf("%d readings have slightly more chroma than a surface can have", c.beyond), "calibrate the instrument")
	}
	return c.warnings
}

// modelGrid serves the usual bands, whose weights package color keeps.
func (c *checker) modelGrid(s color.Spectrum, under color.Condition) (color.Lab, error) {
	w := c.weights[under]
	if w == nil {
		var err error
		if w, err = color.WeightsFor(under); err != nil {
			return color.Lab{}, err
		}
		c.weights[under] = w
	}
	return w.Lab((*color.Reflectance)(s.R)), nil
}

// weigher holds the weights of one condition on one band grid, so that a file
// of many spectra computes them once.
type weigher struct {
	firstNM, stepNM int
	columns         [][3]float64
	white           color.XYZ
}

// lab gives what color.Spectrum.Lab gives, with the weights kept.
func (c *checker) lab(s color.Spectrum, under color.Condition) (color.Lab, error) {
	if err := s.Check(); err != nil {
		return color.Lab{}, err
	}
	if s.FirstNM == color.FirstNM && s.StepNM == color.StepNM && len(s.R) == color.Bands {
		return c.modelGrid(s, under)
	}
	w := c.weigher[under]
	if w == nil || w.firstNM != s.FirstNM || w.stepNM != s.StepNM || len(w.columns) != len(s.R) {
		w = &weigher{firstNM: s.FirstNM, stepNM: s.StepNM, white: color.XYZ{Under: under}}
		for i := range s.R {
			one := color.Spectrum{FirstNM: s.FirstNM, StepNM: s.StepNM, R: make([]float64, len(s.R))}
			one.R[i] = 1
			xyz, err := one.XYZ(under)
			if err != nil {
				return color.Lab{}, err
			}
			w.columns = append(w.columns, [3]float64{xyz.X, xyz.Y, xyz.Z})
			w.white.X, w.white.Y, w.white.Z = w.white.X+xyz.X, w.white.Y+xyz.Y, w.white.Z+xyz.Z
		}
		c.weigher[under] = w
	}
	sum := color.XYZ{Under: under}
	for i, v := range s.R {
		sum.X += w.columns[i][0] * v
		sum.Y += w.columns[i][1] * v
		sum.Z += w.columns[i][2] * v
	}
	return sum.Against(w.white)
}
