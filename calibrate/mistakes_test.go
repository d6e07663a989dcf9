package calibrate_test

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// A plant is a mistake made on purpose.
type plant struct {
	cause calibrate.Cause
	chips []string
	what  string
}

// planted makes one mistake in a copy of chips; none for the cause "".
func planted(rng *rand.Rand, chips []calibrate.Chip, cause calibrate.Cause) ([]calibrate.Chip, plant) {
	out := slices.Clone(chips)
	switch cause {
	case calibrate.LoadingSlip:
		c := &out[rng.IntN(len(out))]
		codes := codesOf(c)
		code := codes[rng.IntN(len(codes))]
		factor := []calibrate.PHR{10, 0.1}[rng.IntN(2)]
		c.Loadings = maps.Clone(c.Loadings)
		c.Loadings[code] *= factor
		return out, plant{cause, []string{c.Name}, fmt.Sprintf("%s %s x%g", c.Name, code, float64(factor))}
	case calibrate.SwappedChips:
		for {
			a, b := &out[rng.IntN(len(out))], &out[rng.IntN(len(out))]
			if slices.Equal(codesOf(a), codesOf(b)) || colourant(a) == colourant(b) {
				continue
			}
			a.Loadings, b.Loadings = b.Loadings, a.Loadings
			return out, plant{cause, []string{a.Name, b.Name}, a.Name + " with " + b.Name}
		}
	case calibrate.WrongBacking:
		white := slices.IndexFunc(out, func(c calibrate.Chip) bool { return c.BackingName == "white" })
		for {
			if c := &out[rng.IntN(len(out))]; c.BackingName == "black" {
				c.BackingName, c.Backing = "white", out[white].Backing
				return out, plant{cause, []string{c.Name}, c.Name + " over white"}
			}
		}
	case calibrate.Unexplained: // a smear: five units off in some direction
		c := &out[rng.IntN(len(out))]
		dir := [3]float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
		labs := slices.Clone(c.Labs)
		for i := range labs {
			labs[i].L += 3 * dir[0]
			labs[i].A += 3 * dir[1]
			labs[i].B += 3 * dir[2]
		}
		r := *c.Spectrum
		for b := range r {
			u := (float64(b) - 15) / 15
			r[b] *= 1 + 0.1*(dir[0]+dir[1]*u+dir[2]*(u*u-0.5))
		}
		c.Labs, c.Spectrum = labs, &r
		return out, plant{cause, []string{c.Name}, c.Name + " off"}
	}
	return out, plant{}
}

// codesOf lists what a chip holds, sorted.
func codesOf(c *calibrate.Chip) []string {
	var out []string
	for code, phr := range c.Loadings {
		if phr > 0 {
			out = append(out, code)
		}
	}
	slices.Sort(out)
	return out
}

// colourant is what a chip is about: the first that is not white.
func colourant(c *calibrate.Chip) string {
	for _, code := range codesOf(c) {
		if code != virtualshop.White {
			return code
		}
	}
	return virtualshop.White
}

// paintShop is a shop of the measured paints: the curves that the chips of
// testdata/real_pigments show. A sample has the first eight of them.
func paintShop(t testing.TB) *virtualshop.Shop {
	c := realFit{48, virtualshop.Spectra}.fit(t)
	codes, _, _ := calibrate.RealPigments(t, 48)
	if !whole {
		codes = codes[:8]
	}
	s := &virtualshop.Shop{
		Name: "paints", Codes: codes, Light: virtualshop.TwoFlux{K1: 0.04, K2: 0.60}, Level: 1,
		Setting: calibrate.Setting{Thickness: 3, Backing: color.Constant(0.90), Specular: color.SpecularIncluded},
		Dark:    color.Constant(0.03), ChipGrams: 50, ScaleGrams: 0.01,
		Noise: calibrate.Noise{LabSD: 0.08, SpectrumSD: 0.001},
	}
	s.Resin = virtualshop.Curve{K: c.Curves[0].K, S: c.Curves[0].S}
	for _, q := range c.Curves[1 : 1+len(codes)] {
		s.Pigments = append(s.Pigments, virtualshop.Curve{K: q.K, S: q.S})
	}
	return s
}

// verdict of one case.
type verdict int

const (
	named   verdict = iota // right chip (for a swap both) and right cause
	pointed                // the chip, or it among others, without a cause
	wrong                  // another cause, or other chips only
	missed
)

func judge(found []calibrate.Suspect, p plant) verdict {
	out := missed
	for _, s := range found {
		hit := slices.ContainsFunc(s.Chips, func(c string) bool { return slices.Contains(p.chips, c) })
		switch {
		case hit && s.Cause == p.cause:
			return named
		case hit && s.Cause == calibrate.Unexplained:
			out = pointed
		case out != pointed:
			out = wrong
		}
	}
	return out
}

// A tally counts what came of planted mistakes of one kind.
type tally struct{ named, pointed, wrong, missed, alarms int }

// count counts what was found of one plant.
func (t *tally) count(found []calibrate.Suspect, p plant) {
	if len(found) > 0 {
		t.alarms++
	}
	switch judge(found, p) {
	case named:
		t.named++
	case pointed:
		t.pointed++
	case wrong:
		t.wrong++
	default:
		t.missed++
	}
}

// plantAll casts n sets of chips in shops, plants one mistake of a cause in
// each (none for ""), fits and tallies.
func plantAll(t *testing.T, shops []*virtualshop.Shop, e virtualshop.Evidence, cause calibrate.Cause, n int) (out tally) {
	for k := range n {
		rng := rand.New(rand.NewPCG(uint64(k), 77))
		s := shops[k%len(shops)]
		chips, p := planted(rng, s.CastAll(rng, s.Study(virtualshop.Thin)), cause)
		c, err := calibrate.Fit(context.Background(), s.Codes, e.Of(chips), calibrate.Options{Layer: calibrate.KubelkaMunk})
		require.NoError(t, err)
		out.count(c.Suspects, p)
	}
	return out
}

var plantedCauses = []calibrate.Cause{calibrate.LoadingSlip, calibrate.SwappedChips, calibrate.WrongBacking}

// Mistakes are named, and clean chips raise no alarm. A sample: the full table,
// of all kinds of evidence and 50 cases each, stands in the study.
func TestMistakesAreNamed(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	t.Parallel()
	shops := []*virtualshop.Shop{paintShop(t)}
	n, kinds, causes := 1, []virtualshop.Evidence{virtualshop.Spectra}, plantedCauses[:2] // TestMistakeThatLedAllAstray has the third
	if whole {
		n, kinds, causes = 3, virtualshop.Evidences(), plantedCauses
	}
	for _, e := range kinds {
		clean := plantAll(t, shops, e, "", n)
		t.Logf("%-12s clean: %d of %d false alarms", e, clean.alarms, n)
		assert.Zero(t, clean.alarms, e)
		for _, cause := range causes {
			c := plantAll(t, shops, e, cause, n)
			t.Logf("%-12s %-13s named %d, pointed at %d, wrong %d, missed %d", e, cause, c.named, c.pointed, c.wrong, c.missed)
			assert.GreaterOrEqual(t, c.named, max(1, n-1), "%s %s", e, cause)
		}
	}
}

// heldOut is the mean CIEDE2000 of mixtures never cast, by a fit of chips.
func heldOut(t *testing.T, codes []string, chips, mixtures []calibrate.Chip) float64 {
	t.Helper()
	c, err := calibrate.Fit(context.Background(), codes, chips, calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	return missOf(t, c, mixtures)
}

// missOf is the mean CIEDE2000 of mixtures never cast, by a calibration.
func missOf(t *testing.T, c *calibrate.Calibration, mixtures []calibrate.Chip) float64 {
	t.Helper()
	sum := 0.0
	for _, m := range mixtures {
		p, err := c.Predict(calibrate.Sample{Loadings: m.Loadings, Setting: calibrate.Setting{Thickness: m.Thickness, Backing: m.Backing}})
		require.NoError(t, err)
		d, err := p.Colors[0].Lab.DeltaE00(m.Labs[0])
		require.NoError(t, err)
		sum += d / float64(len(mixtures))
	}
	return sum
}

// One loading that slipped costs little. With two chips of a pigment none of them
// stands out, since its curves follow whatever is written. Chips and mixtures of
// testdata/real_pigments; all kinds and numbers of chips stand in the study.
func TestOneSlipCostsLittle(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	t.Parallel()
	codes, chips, mixtures := calibrate.RealPigments(t, 26)
	kinds, slips := []virtualshop.Evidence{virtualshop.Spectra}, 1
	if whole {
		kinds, slips = append(kinds, virtualshop.ThreeLights), 2
	}
	for _, e := range kinds {
		clean := missOf(t, realFit{len(chips), e}.fit(t), mixtures) // Kubelka-Munk is what it chooses
		for k := range slips {
			bad, p := planted(rand.New(rand.NewPCG(uint64(k), 5)), chips, calibrate.LoadingSlip)
			ratio := heldOut(t, codes, e.Of(bad), mixtures) / clean
			t.Logf("%-12s %s: held-out error x%.2f", e, p.what, ratio)
			assert.LessOrEqual(t, ratio, 1.25, "%s: %s", e, p.what)
		}
	}
}

// A mistake that led all curves astray, noise and strengths with them, is still
// found: nothing shows against what it led to.
func TestMistakeThatLedAllAstray(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	t.Parallel()
	s := paintShop(t)
	rng := rand.New(rand.NewPCG(10, 77))
	chips, p := planted(rng, s.CastAll(rng, s.Study(virtualshop.Thin)), calibrate.WrongBacking)
	c, err := calibrate.Fit(context.Background(), s.Codes, virtualshop.Spectra.Of(chips), calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	assert.Equal(t, named, judge(c.Suspects, p), "%s; found %v", p.what, c.Suspects)
}

// Where the white was swapped, of which most chips hold some, all pigments look
// wrong; the one it was swapped with is found all the same. Chips of
// testdata/real_pigments.
func TestSwapOfWhatAllChipsHold(t *testing.T) {
	if underRace {
		t.Skip("a study of figures; run without -race")
	}
	t.Parallel()
	codes, chips, _ := calibrate.RealPigments(t, 37)
	bad, p := planted(rand.New(rand.NewPCG(0, 5)), chips, calibrate.SwappedChips)
	c, err := calibrate.Fit(context.Background(), codes, virtualshop.OneLight.Of(bad), calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	assert.Equal(t, named, judge(c.Suspects, p), "%s; found %v", p.what, c.Suspects)
}

// A chip that is wrong on record speaks for the wrong layer model: once it is found
// both models are asked again. The one chip over black of a radiative shop, and a
// tint of testdata/real_pigments.
func TestMistakeLeavesTheLayer(t *testing.T) {
	if underRace {
		t.Skip("many fits; run without -race")
	}
	t.Parallel()
	s := virtualshop.Radiative(1, someOf(12))
	rng := rand.New(rand.NewPCG(1, 'c'))
	s.Mixtures(rng, 120)
	radiative := s.CastAll(rng, s.Study(virtualshop.Tint))
	real, paints, _ := calibrate.RealPigments(t, 37)
	for _, c := range []struct {
		pigments []string
		chips    []calibrate.Chip
		chip     string
		spoil    func(*calibrate.Chip)
		cause    calibrate.Cause
		layer    string
	}{
		{s.Codes, radiative, "WH-05b", func(c *calibrate.Chip) { c.Backing = s.Setting.Backing }, calibrate.WrongBacking, calibrate.ExactLayer},
		{real, paints, "BK-t50", func(c *calibrate.Chip) { c.Loadings["BK"] *= 10 }, calibrate.LoadingSlip, calibrate.KubelkaMunk},
	} {
		if c.layer != calibrate.ExactLayer && !whole {
			continue
		}
		i := slices.IndexFunc(c.chips, func(chip calibrate.Chip) bool { return chip.Name == c.chip })
		c.chips[i].Loadings = maps.Clone(c.chips[i].Loadings)
		c.spoil(&c.chips[i])
		cal, err := calibrate.Fit(context.Background(), c.pigments, virtualshop.ThreeLights.Of(c.chips), calibrate.Options{})
		require.NoError(t, err)
		require.Len(t, cal.Suspects, 1, c.chip)
		require.Equal(t, c.cause, cal.Suspects[0].Cause, c.chip)
		require.Equal(t, []string{c.chip}, cal.Suspects[0].Chips)
		assert.Equal(t, c.layer, cal.Layer.Name, c.chip)
	}
}
