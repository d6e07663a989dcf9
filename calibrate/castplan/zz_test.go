package castplan_test

import (
	"context"
	"fmt"
	"github.com/stretchr/testify/require"
	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/calibrate/virtualshop"
	"masstone/color"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
)

func heldOut(t testing.TB, c *calibrate.Calibration, s *virtualshop.Shop, ms []map[string]calibrate.PHR) (mean, exp float64) {
	for _, m := range ms {
		p, err := c.Predict(calibrate.Sample{m, s.Setting}, color.D65Ten())
		require.NoError(t, err)
		d, _ := p.Colors[0].Lab.DeltaE00(s.Color(m, s.Setting, color.D65Ten()))
		mean += d / float64(len(ms))
		exp += p.Colors[0].Expected / float64(len(ms))
	}
	return
}
func env(k string, d int) int {
	if v := os.Getenv(k); v != "" {
		n, _ := strconv.Atoi(v)
		return n
	}
	return d
}
func TestExplore(t *testing.T) {
	seed := uint64(env("SEED", 1))
	np := env("NP", 8)
	s := virtualshop.Painted(seed, np)
	rng := rand.New(rand.NewPCG(seed, 2))
	ms := s.Mixtures(rng, 150)
	bench := &castplan.Bench{ChipGrams: s.ChipGrams, ScaleGrams: s.ScaleGrams, Thickness: s.Setting.Thickness, Measurement: color.Measurement{Geometry: color.Sphere, Specular: s.Setting.Specular},
		Backings: []castplan.Backing{{"white", s.Setting.Backing}, {"black", s.Dark}}}
	start := s.CastAll(rng, s.Study(virtualshop.Tint))
	opt := calibrate.Options{Layer: calibrate.KubelkaMunk}
	for _, e := range virtualshop.Evidences() {
		if f := os.Getenv("EV"); f != "" && !strings.HasPrefix(string(e), f) {
			continue
		}
		fit := func(chips []calibrate.Chip) *calibrate.Calibration {
			c, err := calibrate.Fit(context.Background(), s.Codes, e.Of(chips), opt)
			require.NoError(t, err)
			return c
		}
		c := fit(start)
		m0, x0 := heldOut(t, c, s, ms)
		w, _ := castplan.Whites(c)
		cand, err := castplan.Candidates(c, bench, w)
		require.NoError(t, err)
		interest := castplan.Gamut(c, s.Setting, w, 100)
		t0 := time.Now()
		k := env("K", np)
		plan, err := castplan.Next(context.Background(), c, castplan.Request{castplan.ReadingOf(c), cand, interest, k})
		require.NoError(t, err)
		dt := time.Since(t0)
		fmt.Printf("%s: start %d chips, %.3f (claims %.3f) ; cand %d, plan in %v  gamut claim %.3f\n", e, len(start), m0, x0, len(cand), dt, plan.Before)
		var add []calibrate.Chip
		for _, st := range plan.Steps {
			fmt.Printf("    %-28s %.3f\n", st.Name, st.After)
			add = append(add, s.Cast(rng, st.Evidence()))
		}
		cp := fit(append(append([]calibrate.Chip{}, start...), add...))
		m1, x1 := heldOut(t, cp, s, ms)
		g1, _ := castplan.Claim(cp, interest)
		fmt.Printf("  plan  +%d: %.3f (claims %.3f) gamut %.3f\n", k, m1, x1, g1)
		sum := 0.0
		R := env("R", 6)
		for range R {
			var add []calibrate.Chip
			for _, i := range rng.Perm(len(cand))[:k] {
				add = append(add, s.Cast(rng, cand[i].Evidence()))
			}
			cr := fit(append(append([]calibrate.Chip{}, start...), add...))
			m, x := heldOut(t, cr, s, ms)
			g, _ := castplan.Claim(cr, interest)
			fmt.Printf("  random +%d: %.3f (claims %.3f) gamut %.3f\n", k, m, x, g)
			sum += m / float64(R)
		}
		fmt.Printf(" => %s plan %.3f random %.3f ratio %.2f\n", e, m1, sum, m1/sum)
	}
}
