package castplan

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// taught is a shop ready to plan, for each kind of reading.
func taught(t *testing.T, e virtualshop.Evidence) (*calibrate.Calibration, Request) {
	s := virtualshop.Painted(2, 4)
	b := &Bench{ChipGrams: s.ChipGrams, ScaleGrams: s.ScaleGrams, Thickness: s.Setting.Thickness, ThicknessSD: 0.03,
		Measurement: color.Measurement{Geometry: color.Sphere, Specular: s.Setting.Specular},
		Backings:    []Backing{{"white", s.Setting.Backing}, {"black", s.Dark}}}
	whites := []string{virtualshop.White}
	first, err := Start(Shelf{Pigments: s.Codes, Whites: whites, PerColour: 2, Level: s.Level}, b)
	require.NoError(t, err)
	rng := rand.New(rand.NewPCG(1, 't'))
	var chips []calibrate.Chip
	for _, c := range first {
		chips = append(chips, s.Cast(rng, c.Evidence()))
	}
	c, err := calibrate.Fit(context.Background(), s.Codes, e.Of(chips), calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	candidates, err := Candidates(c, b, whites)
	require.NoError(t, err)
	gamut, err := Gamut(c, b, whites, 20)
	require.NoError(t, err)
	return c, Request{Reading: ReadingOf(c), Candidates: candidates, Interest: gamut}
}

// One chip after the other, each boiled down, leaves the same covariance as all
// whole readings at once by (1).
func TestOneByOneIsAllAtOnce(t *testing.T) {
	for _, e := range virtualshop.Evidences() {
		c, r := taught(t, e)
		s, err := newKnowledge(context.Background(), c, r)
		require.NoError(t, err)
		width, _ := s.cov.Dims()
		var j mat.Dense // all readings, in all unknowns, with noise of 1
		for _, i := range []int{0, 7, 19, 31} {
			chip := r.Candidates[i].Evidence()
			whole := wholeObservation(t, c, &chip, r.Reading)
			rows, _ := whole.j.Dims()
			wide := mat.NewDense(rows, width, nil)
			at := 0
			for _, b := range whole.blocks {
				wide.Slice(0, rows, b.First, b.First+b.Len).(*mat.Dense).Copy(whole.j.Slice(0, rows, at, at+b.Len))
				at += b.Len
			}
			if j.IsEmpty() {
				j.CloneFrom(wide)
			} else {
				var both mat.Dense
				both.Stack(&j, wide)
				j.CloneFrom(&both)
			}
		}
		want := mat.DenseCopyOf(s.cov)
		var jc, in, x, drop mat.Dense
		jc.Mul(&j, s.cov)
		in.Mul(&jc, j.T())
		rows, _ := in.Dims()
		for a := range rows {
			in.Set(a, a, in.At(a, a)+1)
		}
		require.NoError(t, x.Solve(&in, &jc))
		drop.Mul(jc.T(), &x)
		want.Sub(want, &drop)

		before := s.mean(nil)
		for _, i := range []int{0, 7, 19, 31} {
			s.update(&s.observations[i])
		}
		var off mat.Dense
		off.Sub(s.cov, want)
		require.Less(t, mat.Max(&off), 2e-3, "%s", e)
		require.Greater(t, mat.Min(&off), -2e-3, "%s", e)
		// the errors carried along are those of the covariance reached
		after := s.mean(nil)
		require.Less(t, after, before)
		fresh := &knowledge{cov: s.cov, widen: s.widen, floor: s.floor}
		require.NoError(t, fresh.linearisePredictions(settings{c, map[calibrate.Setting]*calibrate.Evaluator{}}, r.Interest))
		require.InDelta(t, fresh.mean(nil), after, 1e-9)
	}
}

func wholeObservation(t *testing.T, c *calibrate.Calibration, chip *calibrate.Chip, r Reading) *observation {
	e, err := c.Evaluator(calibrate.Setting{Thickness: chip.Thickness, Backing: chip.Backing, Specular: chip.Measurement.Specular})
	require.NoError(t, err)
	var weights []*color.Weights
	for _, under := range r.Lights {
		w, err := color.WeightsFor(under)
		require.NoError(t, err)
		weights = append(weights, w)
	}
	l, err := observationOf(c, e, chip, r.Spectrum, weights)
	require.NoError(t, err)
	return l
}

// What a reading tells, J' N^-1 J, with N put together by hand: the noise, and
// what a step of the scale and of the thickness change, by differences.
func TestObservationCountsTheCup(t *testing.T) {
	for _, e := range []virtualshop.Evidence{virtualshop.ThreeLights, virtualshop.Spectra} {
		c, r := taught(t, e)
		chip := r.Candidates[len(r.Candidates)-1].Evidence()
		pigments, phr, err := c.Resolve(chip.Loadings)
		require.NoError(t, err)
		require.Len(t, pigments, 3)
		read := func(shift int, by float64) []float64 {
			set := calibrate.Setting{Thickness: chip.Thickness, Backing: chip.Backing, Specular: chip.Measurement.Specular}
			loads := append([]float64(nil), phr...)
			if shift < len(loads) {
				loads[shift] += by
			} else {
				set.Thickness += calibrate.ThicknessMM(by)
			}
			e, err := c.Evaluator(set, append(r.Reading.Lights, c.Main)...)
			require.NoError(t, err)
			e.Set(pigments, loads)
			if r.Reading.Spectrum {
				s := e.Reflectance()
				return s[:]
			}
			var out []float64
			for i := range r.Reading.Lights {
				v := e.Lab(i).Values()
				out = append(out, v[:]...)
			}
			return out
		}
		rows := len(read(0, 0))
		noise := c.Noise.LabSD
		if r.Reading.Spectrum {
			noise = c.Noise.SpectrumSD
		}
		n := mat.NewDense(rows, rows, nil)
		for a := range rows {
			n.Set(a, a, noise*noise)
		}
		const h = 1e-4
		for k := range len(phr) + 1 {
			sd := 0.03 // of the thickness, see taught
			if k < len(phr) {
				sd = float64(chip.ScaleGrams) / math.Sqrt(12) / float64(chip.ChipGrams) * 100
			}
			up, down := read(k, h), read(k, -h)
			for a := range rows {
				for b := range rows {
					n.Set(a, b, n.At(a, b)+sd*sd*(up[a]-down[a])*(up[b]-down[b])/(4*h*h))
				}
			}
		}
		ev, err := c.Evaluator(calibrate.Setting{Thickness: chip.Thickness, Backing: chip.Backing, Specular: chip.Measurement.Specular}, append(r.Reading.Lights, c.Main)...)
		require.NoError(t, err)
		ev.Set(pigments, phr)
		j := ev.Sensitivity().Unknown
		if !r.Reading.Spectrum {
			refl := ev.Reflectance()
			see := mat.NewDense(rows, color.Bands, nil)
			for i, under := range r.Reading.Lights {
				w, err := color.WeightsFor(under)
				require.NoError(t, err)
				var lab [3]float64
				var jac [3][color.Bands]float64
				w.LabWithJacobian(&refl, &lab, &jac)
				for k := range 3 {
					see.SetRow(3*i+k, jac[k][:])
				}
			}
			var seen mat.Dense
			seen.Mul(see, j)
			j = &seen
		}
		var x, want, got mat.Dense
		require.NoError(t, x.Solve(n, j))
		want.Mul(j.T(), &x)
		l := wholeObservation(t, c, &chip, r.Reading)
		got.Mul(l.j.T(), l.j)
		tol := 1e-3 * mat.Max(&want)
		require.True(t, mat.EqualApprox(&want, &got, tol), "%s", e)
	}
}

// (3) against the mean length of a normal vector: exact for one, two and three
// equal variances (chi distribution), and by counting for others.
func TestMeanLength(t *testing.T) {
	s := &knowledge{widen: 1}
	diagonal := func(a, b, c float64) (q [3][3]float64) {
		q[0][0], q[1][1], q[2][2] = a, b, c
		return q
	}
	require.InDelta(t, math.Sqrt(2/math.Pi), s.expected(diagonal(1, 0, 0)), 1e-3)
	require.InDelta(t, math.Sqrt(math.Pi/2), s.expected(diagonal(1, 1, 0)), 1.5e-3)
	require.InDelta(t, 2*math.Sqrt(2/math.Pi), s.expected(diagonal(1, 1, 1)), 2e-3)
	require.Zero(t, s.expected([3][3]float64{}))
	rng := rand.New(rand.NewPCG(1, 1))
	for _, v := range [][3]float64{{1, 0.5, 0.1}, {4, 1, 0.25}, {1, 0.04, 0.02}, {2, 2, 0.3}} {
		sum, n := 0.0, 200000
		for range n {
			a, b, c := rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()
			sum += math.Sqrt(v[0]*a*a + v[1]*b*b + v[2]*c*c)
		}
		require.InEpsilon(t, sum/float64(n), s.expected(diagonal(v[0], v[1], v[2])), 0.025, "%v", v)
	}
}

// A smaller error has a smaller mean length, so that no chip seems to do harm.
func TestMeanLengthFallsWithTheError(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := &knowledge{widen: rapid.Float64Range(1, 3).Draw(t, "widen"), floor: rapid.Float64Range(0, 0.5).Draw(t, "floor")}
		v := rapid.SliceOfN(rapid.Float64Range(-2, 2), 12, 12).Draw(t, "factors")
		var less, more [3][3]float64
		for k := range 4 {
			for a := range 3 {
				for b := range 3 {
					d := v[3*k+a] * v[3*k+b]
					more[a][b] += d
					if k < 3 {
						less[a][b] += d
					}
				}
			}
		}
		require.LessOrEqual(t, s.expected(less), s.expected(more)+1e-12)
	})
}

// Where rounding denies a covariance its root, a reading teaches less than it
// might, never more.
func TestRootOfASingularNoise(t *testing.T) {
	s := mat.NewSymDense(2, []float64{1, 1 + 1e-9, 1 + 1e-9, 1}) // not positive
	m := mat.NewDense(2, 1, []float64{1, 1})
	w := underRoot(s, m)
	require.False(t, math.IsNaN(w.At(0, 0)) || math.IsNaN(w.At(1, 0)))
	// both rows measure the same thing once: at most 1 in all
	require.LessOrEqual(t, w.At(0, 0)*w.At(0, 0)+w.At(1, 0)*w.At(1, 0), 1+1e-9)
}
