package calibrate_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// A trial is a calibration held against unseen mixtures, D65 and 10 degrees.
type trial struct {
	evidence          virtualshop.Evidence
	chips             int
	mean, median, p95 float64 // CIEDE2000 from the truth
	expected          float64 // mean of what the calibration expected
	channels          float64 // share of L*, a*, b* inside their 95 % intervals
	upper             float64 // share of mixtures at or below Upper95
	region            float64 // share of mixtures inside their 95 % region
	seconds           float64
	layer             string
}

// unseen is a mixture never used to fit, with its true colour.
type unseen struct {
	sample calibrate.Sample
	truth  color.Lab
}

func try(t testing.TB, pigments []string, chips []calibrate.Chip, e virtualshop.Evidence, o calibrate.Options, mixtures []unseen) trial {
	t.Helper()
	start := time.Now()
	c, err := calibrate.Fit(context.Background(), pigments, e.Of(chips), o)
	require.NoError(t, err)
	out := trial{evidence: e, chips: len(chips), seconds: time.Since(start).Seconds(), layer: c.Layer.Name}
	out.against(t, c, mixtures)
	return out
}

func (r *trial) against(t testing.TB, c *calibrate.Calibration, mixtures []unseen) {
	t.Helper()
	n := float64(len(mixtures))
	var all []float64
	for _, m := range mixtures {
		p, err := c.Predict(m.sample, color.D65Ten())
		require.NoError(t, err)
		got := p.Colors[0]
		d, err := got.Lab.DeltaE00(m.truth)
		require.NoError(t, err)
		require.False(t, math.IsNaN(d))
		all = append(all, d)
		r.mean += d / n
		r.expected += got.Expected / n
		if got.Covers(m.truth) {
			r.region += 1 / n
		}
		if d <= got.Upper95 {
			r.upper += 1 / n
		}
		a, b := got.Lab.Values(), m.truth.Values()
		for k := range 3 {
			if math.Abs(a[k]-b[k]) <= got.Half95[k] {
				r.channels += 1 / (3 * n)
			}
		}
	}
	slices.Sort(all)
	r.median, r.p95 = all[len(all)/2], all[len(all)*95/100]
}

// table writes trials in columns.
func table(title string, trials []trial) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n%-13s %-13s %5s %6s %6s %6s %8s %9s %6s %7s %5s\n", title,
		"layer", "evidence", "chips", "mean", "median", "p95", "expected", "channels", "upper", "region", "s")
	for _, r := range trials {
		fmt.Fprintf(&b, "%-13s %-13s %5d %6.3f %6.3f %6.3f %8.3f %8.1f%% %5.1f%% %6.1f%% %5.1f\n",
			r.layer, r.evidence, r.chips, r.mean, r.median, r.p95, r.expected, 100*r.channels, 100*r.upper, 100*r.region, r.seconds)
	}
	return b.String()
}

// unseenOf draws mixtures of a shop.
func unseenOf(s *virtualshop.Shop, rng *rand.Rand, n int) []unseen {
	var out []unseen
	for _, m := range s.Mixtures(rng, n) {
		out = append(out, unseen{calibrate.Sample{Loadings: m, Setting: s.Setting}, s.Color(m, s.Setting, color.D65Ten())})
	}
	return out
}

// study runs plans and evidences on a shop.
func study(t *testing.T, s *virtualshop.Shop, seed uint64, plans []virtualshop.Plan, evidences []virtualshop.Evidence, options ...calibrate.Options) []trial {
	rng := rand.New(rand.NewPCG(seed, 'c'))
	mixtures := unseenOf(s, rng, 120)
	var out []trial
	for _, plan := range plans {
		chips := s.CastAll(rng, s.Study(plan))
		for _, e := range evidences {
			for _, o := range options {
				out = append(out, try(t, s.Codes, chips, e, o, mixtures))
			}
		}
	}
	slices.SortStableFunc(out, func(a, b trial) int { return strings.Compare(string(a.evidence), string(b.evidence)) })
	return out
}

func TestAccuracyRealPigments(t *testing.T) {
	var out []trial
	for _, e := range virtualshop.Evidences() {
		for _, n := range []int{26, 37, 48} {
			pigments, chips, mixtures := calibrate.RealPigments(t, n)
			var ms []unseen
			for _, m := range mixtures {
				ms = append(ms, unseen{calibrate.Sample{Loadings: m.Loadings, Setting: calibrate.Setting{Thickness: m.Thickness, Backing: m.Backing, Specular: m.Measurement.Specular}}, m.Labs[0]})
			}
			out = append(out, try(t, pigments, chips, e, calibrate.Options{Layer: calibrate.KubelkaMunk}, ms))
		}
	}
	t.Log(table("real pigments", out))
}

func TestAccuracyPainted(t *testing.T) {
	for seed := uint64(1); seed <= 2; seed++ {
		s := virtualshop.Painted(seed, 12)
		t.Log(table(s.Name, study(t, s, seed, virtualshop.Plans(), virtualshop.Evidences(), calibrate.Options{Layer: calibrate.KubelkaMunk})))
	}
	s := virtualshop.Painted(3, 12).InOpaqueResin()
	t.Log(table(s.Name, study(t, s, 3, virtualshop.Plans(), virtualshop.Evidences(), calibrate.Options{Layer: calibrate.KubelkaMunk})))
}

func TestAccuracyRadiative(t *testing.T) {
	s := virtualshop.Radiative(1, 12)
	t0 := time.Now()
	s.Color(nil, s.Setting, color.D65Ten())
	t.Log(time.Since(t0))
	t.Log(table(s.Name, study(t, s, 1, []virtualshop.Plan{virtualshop.Thin}, virtualshop.Evidences(), calibrate.Options{Layer: calibrate.KubelkaMunk}, calibrate.Options{Layer: calibrate.ExactLayer})))
}
