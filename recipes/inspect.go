package recipes

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"masstone/calibrate"
	"masstone/color"
)

// A Finding is what an inspection of a cured part found.
type Finding struct {
	Verdict // under the first condition of the target that the part was read under
	// Passes is whether the part as read is within what the client accepts.
	Passes bool
	Axes   []AxisFinding // in the order of Axes, where the client limits them
	// Uncertainty is the standard uncertainty of the difference by the readings
	// of part and target, at what is accepted of it in the direction of the part:
	// in the target's formula, or with limits per axis as a share of the limit.
	Uncertainty float64
	// Low95 and High95 are the ends of what the difference truly is, in the
	// target's formula, with 95 %.
	Low95, High95 float64
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

// uncertainty is the standard uncertainty of a difference from std at the limit
// in the direction of lab, by the propagation of small errors:
//
//	u^2 = g' C g,  g the gradient of the difference along L*, a*, b*
//
// (JCGM 100:2008, 5.2.2). At no difference there is no direction, and no gradient;
// the limit is taken along L* there.
func (t *Target) uncertainty(std, lab [3]float64, cov [3][3]float64) float64 {
	const h = 1e-3
	between, within := t.acceptance()
	at := std
	if d := between(std, lab); d > 1e-6 {
		for i := range at {
			at[i] += (lab[i] - std[i]) * within / d
		}
	} else {
		at[0] += within
	}
	var g [3]float64
	for i := range g {
		up, down := at, at
		up[i], down[i] = up[i]+h, down[i]-h
		g[i] = (between(std, up) - between(std, down)) / (2 * h)
	}
	u := 0.0
	for i := range g {
		for j := range g {
			u += g[i] * cov[i][j] * g[j]
		}
	}
	return math.Sqrt(max(0, u))
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
		noise.SpectrumSD = calibrate.UsualSpectrumSD
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
		out.Uncertainty = t.uncertainty(std.Values(), lab.Values(), t.read(cov))
		out.Axes = AxesOf(d, t.Axes)
		all := calibrate.Differences(t.total, std.Values(), lab.Values(), t.read(cov))
		out.Low95, out.High95 = stat.Quantile(0.025, stat.LinInterp, all, nil), stat.Quantile(0.975, stat.LinInterp, all, nil)
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
