package calibrate_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
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
	suspects          []calibrate.Suspect
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
	out := trial{evidence: e, chips: len(chips), seconds: time.Since(start).Seconds(), layer: c.Layer.Name, suspects: c.Suspects}
	out.against(t, c, mixtures)
	return out
}

// A realFit is a fit of chips of testdata/real_pigments by every layer model.
type realFit struct {
	chips    int
	evidence virtualshop.Evidence
}

var realFits sync.Map // of realFit, each made once

// fit makes it, or gives what another test has made.
func (f realFit) fit(t testing.TB) *calibrate.Calibration {
	t.Helper()
	once, _ := realFits.LoadOrStore(f, sync.OnceValues(func() (*calibrate.Calibration, error) {
		pigments, chips, _ := calibrate.RealPigments(t, f.chips)
		return calibrate.Fit(context.Background(), pigments, f.evidence.Of(chips), calibrate.Options{})
	}))
	c, err := once.(func() (*calibrate.Calibration, error))()
	require.NoError(t, err)
	return c
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
func study(t testing.TB, s *virtualshop.Shop, seed uint64, plans []virtualshop.Plan, evidences []virtualshop.Evidence, options ...calibrate.Options) []trial {
	return studied(s, seed).study(t, plans, evidences, options...)
}

// A studiedShop is a shop with mixtures to foretell.
type studiedShop struct {
	*virtualshop.Shop
	mixtures []unseen
	rng      rand.PCG // as the mixtures left it
}

func studied(s *virtualshop.Shop, seed uint64) studiedShop {
	rng := rand.NewPCG(seed, 'c')
	mixtures := unseenOf(s, rand.New(rng), 120)
	return studiedShop{s, mixtures, *rng}
}

func (s studiedShop) study(t testing.TB, plans []virtualshop.Plan, evidences []virtualshop.Evidence, options ...calibrate.Options) []trial {
	rng := rand.New(&s.rng)
	cast := map[virtualshop.Plan][]calibrate.Chip{}
	for _, plan := range plans {
		cast[plan] = s.CastAll(rng, s.Study(plan))
	}
	var out []trial
	for _, o := range options {
		for _, e := range evidences {
			for _, plan := range plans {
				out = append(out, try(t, s.Codes, cast[plan], e, o, s.mixtures))
			}
		}
	}
	return out
}

// A bar is what a trial has to reach: the largest mean CIEDE2000 and the share of
// L*, a*, b* inside their 95 % intervals.
type bar struct{ mean, low, high float64 }

func (b bar) reached(r trial) bool {
	return r.mean <= b.mean && r.channels >= b.low && r.channels <= b.high
}

// hold requires what is held, and says where that is less than what is asked.
func hold(t *testing.T, r trial, asked, held bar) {
	t.Helper()
	what := fmt.Sprintf("%s, %s, %d chips", r.layer, r.evidence, r.chips)
	if !asked.reached(r) {
		t.Logf("%s: asked %.2f and %.0f-%.0f %%, reached %.3f and %.1f %%", what, asked.mean, 100*asked.low, 100*asked.high, r.mean, 100*r.channels)
	}
	require.True(t, held.reached(r), "%s: held %.2f and %.0f-%.1f %%, now %.3f and %.1f %%", what, held.mean, 100*held.low, 100*held.high, r.mean, 100*r.channels)
}

// The chips and unseen mixtures of testdata/real_pigments.
func TestAccuracyRealPigments(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	t.Parallel()
	asked := map[virtualshop.Evidence][3]float64{
		virtualshop.OneLight:    {1.00, 0.61, 0.42},
		virtualshop.ThreeLights: {0.38, 0.25, 0.21},
		virtualshop.Spectra:     {0.20, 0.17, 0.14},
	}
	var out []trial
	for _, e := range virtualshop.Evidences() {
		for _, n := range []int{26, 37, 48} {
			if n == 37 && !whole {
				continue
			}
			_, chips, mixtures := calibrate.RealPigments(t, n)
			require.Len(t, chips, n)
			var all []unseen
			for _, m := range mixtures {
				set := calibrate.Setting{Thickness: m.Thickness, Backing: m.Backing, Specular: m.Measurement.Specular}
				all = append(all, unseen{calibrate.Sample{Loadings: m.Loadings, Setting: set}, m.Labs[0]})
			}
			require.Len(t, all, 120)
			start := time.Now()
			c := realFit{n, e}.fit(t)
			r := trial{evidence: e, chips: n, seconds: time.Since(start).Seconds(), layer: c.Layer.Name}
			r.against(t, c, all)
			out = append(out, r)
		}
	}
	t.Log(table("real pigments, by the layer that the fit chose", out))
	for _, r := range out {
		want := bar{asked[r.evidence][map[int]int{26: 0, 37: 1, 48: 2}[r.chips]], 0.90, 0.99}
		hold(t, r, want, want)
		require.Equal(t, calibrate.KubelkaMunk, r.layer, "%s, %d chips", r.evidence, r.chips)
	}
}

// A Kubelka-Munk shop that nothing was tuned on; what is asked is what the real
// pigments are asked.
func TestAccuracyPainted(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	if testing.Short() {
		t.Skip("many fits")
	}
	t.Parallel()
	asked := map[virtualshop.Evidence][3]float64{
		virtualshop.OneLight:    {1.00, 0.61, 0.42},
		virtualshop.ThreeLights: {0.38, 0.25, 0.21},
		virtualshop.Spectra:     {0.20, 0.17, 0.14},
	}
	held := map[virtualshop.Evidence][3]float64{
		virtualshop.OneLight:    {1.60, 0.75, 0.60},
		virtualshop.ThreeLights: {0.40, 0.27, 0.22},
		virtualshop.Spectra:     {0.20, 0.17, 0.14},
	}
	s := studied(virtualshop.Painted(1, 12), 1)
	plans, told := []virtualshop.Plan{virtualshop.Thin}, virtualshop.Evidences()[:2]
	if whole {
		plans, told = append(plans, virtualshop.Tint), virtualshop.Evidences()
	}
	out := s.study(t, plans, told, calibrate.Options{Layer: calibrate.KubelkaMunk})
	t.Log(table(s.Name, out))
	for i, r := range out {
		plan := plans[i%len(plans)]
		hold(t, r, bar{asked[r.evidence][plan], 0.90, 0.99}, bar{held[r.evidence][plan], 0.90, 1})
	}
	out = s.study(t, plans[:1], virtualshop.Evidences()[2:], calibrate.Options{})
	t.Log(table(s.Name+", by the layer that the fit chose", out))
	for _, r := range out {
		hold(t, r, bar{asked[r.evidence][virtualshop.Thin], 0.90, 0.99}, bar{held[r.evidence][virtualshop.Thin], 0.90, 1})
		require.Equal(t, calibrate.KubelkaMunk, r.layer, "where light goes by Kubelka-Munk, the readings say so")
	}
}

// A shop whose light follows radiative transfer, in another index and with
// another phase function than the model's, beside Kubelka-Munk.
func TestAccuracyRadiative(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	if testing.Short() {
		t.Skip("many fits")
	}
	t.Parallel()
	asked := map[virtualshop.Evidence]float64{virtualshop.OneLight: 0.60, virtualshop.ThreeLights: 0.28, virtualshop.Spectra: 0.20}
	s := studied(virtualshop.Radiative(1, 12), 1)
	plan := []virtualshop.Plan{virtualshop.Thin}
	told, tint := []virtualshop.Evidence{virtualshop.Spectra}, []virtualshop.Evidence{virtualshop.Spectra}
	open := []virtualshop.Evidence{virtualshop.OneLight, virtualshop.Spectra}
	if whole {
		told, tint, open = virtualshop.Evidences(), append(tint, virtualshop.ThreeLights), virtualshop.Evidences()
	}
	flux := map[virtualshop.Evidence]float64{}
	for _, r := range s.study(t, plan, told, calibrate.Options{Layer: calibrate.KubelkaMunk}) {
		flux[r.evidence] = r.mean
		if r.evidence == virtualshop.Spectra { // a layer model that does not fit is no reason to blame chips
			require.Empty(t, r.suspects)
		}
	}
	out := s.study(t, plan, open, calibrate.Options{})
	t.Log(table(s.Name+", by the layer that the fit chose", out))
	for _, r := range out {
		want := bar{asked[r.evidence], 0.90, 0.99}
		hold(t, r, want, want)
		if mean, known := flux[r.evidence]; known {
			require.Less(t, r.mean, mean, "%s: against Kubelka-Munk", r.evidence)
		}
		require.Equal(t, calibrate.ExactLayer, r.layer, "%s: where light follows radiative transfer, the readings say so", r.evidence)
	}
	// Two chips per pigment leave it nearly open how far forward pastes scatter.
	for _, r := range s.study(t, []virtualshop.Plan{virtualshop.Tint}, tint, calibrate.Options{}) {
		hold(t, r, bar{asked[r.evidence], 0.90, 0.99}, bar{asked[r.evidence], 0.90, 1})
	}
}
