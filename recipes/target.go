package recipes

import (
	"fmt"
	"math"

	"masstone/calibrate"
	"masstone/color"
)

// Target is the colour to match and how it is judged.
type Target struct {
	Name   string
	Client string
	// Labs are the means of the readings of the part, one per condition, the
	// main condition first. With a spectrum they may be empty.
	Labs     []color.Lab
	Readings int // readings behind the mean; 0 counts as 1
	// ReadingSD is the standard deviation of one reading, in each of L*, a*, b*, where
	// the instrument states it; 0 for the usual.
	ReadingSD float64
	Spectrum  *color.Reflectance // the part's own spectrum, if read
	Setting   calibrate.Setting  // the cast part's thickness, backing and reading
	// Tolerance is the largest difference the client accepts, in Formula
	// (CIEDE2000 if empty). 0 counts as 1.0.
	Tolerance float64
	Formula   color.Formula
	// Axes are the largest L, a, b, C and H differences the client accepts,
	// either way, where parts of the difference are limited (see Axes). With
	// them a Tolerance of 0 is none.
	Axes map[string]float64
}

// Check returns an error that says what is missing or impossible.
func (t *Target) Check() error {
	if len(t.Labs) == 0 && t.Spectrum == nil {
		return fmt.Errorf("target %q has no reading; add a Lab or a spectrum", t.Name)
	}
	seen := map[color.Condition]bool{}
	for _, l := range t.Labs {
		if err := l.Under.Check(); err != nil {
			return fmt.Errorf("target %q: %w", t.Name, err)
		}
		if seen[l.Under] {
			return fmt.Errorf("target %q has two colours under %s; give their mean", t.Name, l.Under)
		}
		seen[l.Under] = true
		if !(l.L >= 0 && l.L <= 110) || !(math.Abs(l.A) <= 200) || !(math.Abs(l.B) <= 200) {
			return fmt.Errorf("target %q: Lab %g, %g, %g is not a surface colour; read it again", t.Name, l.L, l.A, l.B)
		}
	}
	if !(t.Tolerance >= 0) || t.Tolerance > 100 {
		return fmt.Errorf("target %q: tolerance %g; give a difference above 0", t.Name, t.Tolerance)
	}
	if err := t.checkAxes(); err != nil {
		return err
	}
	if err := t.Setting.Check(); err != nil {
		return fmt.Errorf("target %q: %w", t.Name, err)
	}
	return nil
}

// Within returns the tolerance, 1.0 if none was given.
func (t *Target) Within() float64 {
	if t.Tolerance == 0 {
		return 1
	}
	return t.Tolerance
}

// colours returns the target's Lab per condition to match, the main first: its
// own readings or, from a spectrum, the calibration's main condition with
// tungsten and a fluorescent lamp.
func (t *Target) colours(cal *calibrate.Calibration) ([]color.Lab, error) {
	out := append([]color.Lab(nil), t.Labs...)
	if t.Spectrum == nil {
		return out, nil
	}
	conds := []color.Condition{cal.Main, color.Under(color.A, cal.Main.Observer), color.Under(color.FL11, cal.Main.Observer)}
	if len(out) > 0 {
		conds = conds[1:]
	}
	for _, c := range conds {
		have := false
		for _, l := range out {
			have = have || l.Under == c
		}
		if have {
			continue
		}
		w, err := color.WeightsFor(c)
		if err != nil {
			return nil, err
		}
		out = append(out, w.Lab(t.Spectrum))
	}
	return out, nil
}
