package recipes

import (
	"fmt"
	"math"

	"masstone/calibrate"
	"masstone/color"
)

// A Finding is what an inspection of a cured part found.
type Finding struct {
	Verdict // under the first condition of the target that the part was read under
	// Passes is whether the part as read is within what the client accepts.
	Passes bool
	Axes   []AxisFinding // in the order of Axes, where the client limits them
	// Lights are the differences under the target's further conditions, as far
	// as the part was read under them.
	Lights []color.Difference
}

// AxisFinding is one part of a difference against its limit.
type AxisFinding struct {
	Axis   string
	Value  float64 // signed, part less target
	Limit  float64
	Passes bool
}

// AxesOf holds the parts of a difference against limits either way, in the order
// of Axes.
func AxesOf(d color.Difference, limits map[string]float64) []AxisFinding {
	var out []AxisFinding
	for _, axis := range Axes() {
		if limit, limited := limits[axis]; limited {
			v := along(d, axis)
			out = append(out, AxisFinding{axis, v, limit, math.Abs(v) <= limit})
		}
	}
	return out
}

// usualSpectrumSD is the standard deviation of a reflectance factor as a
// handheld instrument reads it. Common practice, no source.
const usualSpectrumSD = 0.001

// Inspect holds a cured part against its target in the target's own terms. It
// takes no calibration: only readings are compared. Of noise, zero fields count
// as the usual; the chance to be within tolerance allows for the noise of both
// readings. The error is a part that was not read as the target was.
func Inspect(t Target, p Pour, noise calibrate.Noise) (Finding, error) {
	var out Finding
	if err := t.Check(); err != nil {
		return out, err
	}
	p, err := p.settle(&t, 0)
	if err != nil {
		return out, err
	}
	if !(noise.LabSD > 0) {
		noise.LabSD = readingSD
	}
	if !(noise.SpectrumSD > 0) {
		noise.SpectrumSD = usualSpectrumSD
	}
	pairs, err := t.shared(&p)
	if err != nil {
		return out, err
	}
	for i, std := range pairs {
		lab, cov, err := p.under(std.Under, noise)
		if err != nil {
			return out, err
		}
		d, err := color.Compare(std, lab, t.formula())
		if err != nil {
			return out, err
		}
		if i > 0 {
			out.Lights = append(out.Lights, d)
			continue
		}
		between, within := t.acceptance()
		out.Verdict = Verdict{Pour: p.Name, Difference: d, Words: d.Words(), DE00: color.Delta00(std.Values(), lab.Values()),
			Landing: t.landing(std.Values(), lab.Values(), cov)}
		out.Passes = between(std.Values(), lab.Values()) <= within
		out.Axes = AxesOf(d, t.Axes)
	}
	return out, nil
}

// shared returns the target's colours under the conditions that the pour was
// read under too, the target's main one first if it is among them.
func (t *Target) shared(p *Pour) ([]color.Lab, error) {
	out := make([]color.Lab, 0, len(t.Labs))
	seen := map[color.Condition]bool{}
	add := func(l color.Lab) {
		if !seen[l.Under] {
			seen[l.Under] = true
			out = append(out, l)
		}
	}
	for _, l := range t.Labs {
		if p.Spectrum != nil || p.reads(l.Under) {
			add(l)
		}
	}
	if t.Spectrum != nil {
		var conds []color.Condition
		if p.Spectrum != nil {
			conds = []color.Condition{color.D65Ten(), color.Under(color.A, color.TenDegree), color.Under(color.FL11, color.TenDegree)}
		}
		for _, l := range p.Labs {
			conds = append(conds, l.Under)
		}
		for _, c := range conds {
			w, err := color.WeightsFor(c)
			if err != nil {
				return nil, err
			}
			add(w.Lab(t.Spectrum))
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%s was read under %s and target %q under %s; read the part under the target's light", p.Name, p.Labs[0].Under, t.Name, t.Labs[0].Under)
	}
	return out, nil
}

// reads tells whether a Lab of the pour holds under a condition.
func (p *Pour) reads(c color.Condition) bool {
	for _, l := range p.Labs {
		if l.Under == c {
			return true
		}
	}
	return false
}
