package color

import (
	"fmt"
	"math"
)

// XYZ holds CIE tristimulus values, Y = 100 for the perfect reflecting
// diffuser under the stated condition.
type XYZ struct {
	X     float64   `json:"X"`
	Y     float64   `json:"Y"`
	Z     float64   `json:"Z"`
	Under Condition `json:"under"`
}

// Lab is a CIELAB 1976 colour (ISO/CIE 11664-4), L* from 0 to 100, relative to
// the white of its condition.
type Lab struct {
	L     float64   `json:"L"`
	A     float64   `json:"a"`
	B     float64   `json:"b"`
	Under Condition `json:"under"`
}

// LCh is CIELAB in cylindrical form: L* 0 to 100, chroma, hue angle in degrees
// from 0 up to but not including 360.
type LCh struct {
	L     float64   `json:"L"`
	C     float64   `json:"C"`
	H     float64   `json:"h"`
	Under Condition `json:"under"`
}

// LabFrom makes a Lab of raw L*, a*, b*.
func LabFrom(v [3]float64, under Condition) Lab { return Lab{v[0], v[1], v[2], under} }

// Values gives raw L*, a*, b*, as the allocation-free functions take them.
func (x Lab) Values() [3]float64 { return [3]float64{x.L, x.A, x.B} }

// LCh gives the cylindrical form; the hue of an exact neutral is 0.
func (x Lab) LCh() LCh {
	return LCh{x.L, math.Hypot(x.A, x.B), hueDegrees(x.A, x.B), x.Under}
}

// Lab gives the rectangular form.
func (x LCh) Lab() Lab {
	sin, cos := math.Sincos(x.H * math.Pi / 180)
	return Lab{x.L, x.C * cos, x.C * sin, x.Under}
}

func hueDegrees(a, b float64) float64 {
	h := math.Atan2(b, a) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	if h >= 360 { // a tiny negative angle rounds up to a full turn
		h = 0
	}
	return h
}

// Lab gives CIELAB against the white of the condition as this package sums it,
// the white of WeightsFor and of every Spectrum. For values that come with a
// white of their own, use Against.
func (x XYZ) Lab() (Lab, error) {
	w, err := shared(x.Under)
	if err != nil {
		return Lab{}, err
	}
	return labOf([3]float64{x.X, x.Y, x.Z}, w.White, x.Under), nil
}

// Against gives CIELAB against a stated white, such as a published white
// point. ErrConditions if the white is of another condition.
func (x XYZ) Against(white XYZ) (Lab, error) {
	if err := same(x.Under, white.Under); err != nil {
		return Lab{}, err
	}
	if !(white.X > 0 && white.Y > 0 && white.Z > 0) {
		return Lab{}, fmt.Errorf("white %g %g %g is not positive; give the tristimulus values of the perfect diffuser", white.X, white.Y, white.Z)
	}
	return labOf([3]float64{x.X, x.Y, x.Z}, [3]float64{white.X, white.Y, white.Z}, x.Under), nil
}

// XYZ gives the tristimulus values of a Lab, the inverse of XYZ.Lab.
func (x Lab) XYZ() (XYZ, error) {
	w, err := shared(x.Under)
	if err != nil {
		return XYZ{}, err
	}
	fy := (x.L + 16) / 116
	return XYZ{
		w.White[0] * expand(fy+x.A/500),
		w.White[1] * expand(fy),
		w.White[2] * expand(fy-x.B/200),
		x.Under,
	}, nil
}

// WhitePoint gives the perfect diffuser as CIE 15:2018 tabulates it: sums of
// the 5 nm tables over 380-780 nm. It differs from the white of WeightsFor,
// which comes of 1 nm sums, by up to 0.2 for fluorescent lamps and LEDs.
func WhitePoint(c Condition) (XYZ, error) {
	if err := c.Check(); err != nil {
		return XYZ{}, err
	}
	t := tables()
	power, match := t.tabled[c.Illuminant], t.matching[c.Observer]
	var sum [3]float64
	for nm := 380; nm <= 780; nm += lightStep {
		p := power.values[(nm-power.firstNM)/lightStep]
		for k := range sum {
			sum[k] += p * match[k][nm-spanFirst]
		}
	}
	return XYZ{100 * sum[0] / sum[1], 100, 100 * sum[2] / sum[1], c}, nil // (1), (2)
}

func labOf(t, white [3]float64, under Condition) Lab {
	fx, fy, fz := compress(t[0]/white[0]), compress(t[1]/white[1]), compress(t[2]/white[2])
	return Lab{116*fy - 16, 500 * (fx - fy), 200 * (fy - fz), under} // (6)
}

// The straight part of CIELAB near black, ISO/CIE 11664-4.
const (
	labKnee  = 216.0 / 24389 // (6/29)^3
	labSlope = 841.0 / 108   // (29/6)^2 / 3
	labFoot  = 4.0 / 29
)

func compress(t float64) float64 {
	if t > labKnee {
		return math.Cbrt(t) // (6)
	}
	return labSlope*t + labFoot
}

func compressSlope(t float64) (f, slope float64) {
	if t > labKnee {
		f = math.Cbrt(t)
		return f, f / (3 * t)
	}
	return labSlope*t + labFoot, labSlope
}

func expand(f float64) float64 {
	if f > 6.0/29 {
		return f * f * f
	}
	return (f - labFoot) / labSlope
}
