package calibrate_test

import (
	"context"
	"encoding/json"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/virtualshop"
	"masstone/color"
)

// A carriedTrial is a pair of resins: the new one told from few chips and the old
// one, and from the full set of the same pastes.
type carriedTrial struct {
	carried, alone, full, rest trial
}

// among are mixtures of a white and up to two of some pastes.
func among(s *virtualshop.Shop, rng *rand.Rand, codes []string, n int) []unseen {
	var out []unseen
	for len(out) < n {
		for _, m := range s.Mixtures(rng, n) {
			fits := true
			for code := range m {
				fits = fits && slices.Contains(codes, code)
			}
			if fits && len(out) < n {
				out = append(out, unseen{calibrate.Sample{Loadings: m, Setting: s.Setting}, s.Color(m, s.Setting, color.D65Ten())})
			}
		}
	}
	return out
}

func carry(t testing.TB, s *virtualshop.Shop, seed uint64, e virtualshop.Evidence, castings, n int) carriedTrial {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 'r'))
	other := s.InOtherResin(rng)
	o := calibrate.Options{}
	if _, painted := s.Light.(virtualshop.TwoFlux); painted {
		o.Layer = calibrate.KubelkaMunk
	} else {
		o.Layer = calibrate.ExactLayer
	}
	old, err := calibrate.Fit(context.Background(), s.Codes, e.Of(s.CastAll(rng, s.Study(virtualshop.Thin))), o)
	require.NoError(t, err)
	tints := s.Codes[1:3]
	known := append([]string{s.Codes[0]}, tints...)
	few := e.Of(other.CastAll(rng, other.Check(castings, tints...)))
	set := other.Study(virtualshop.Thin)
	set = slices.DeleteFunc(set, func(c calibrate.Chip) bool {
		for code := range c.Loadings {
			if !slices.Contains(known, code) {
				return true
			}
		}
		return false
	})
	full := e.Of(other.CastAll(rng, append(set, other.Check(4)...)))
	mixtures := among(other, rng, known, n)
	var out carriedTrial
	c, err := old.Carry(context.Background(), few, calibrate.Options{})
	require.NoError(t, err)
	document, err := json.Marshal(c)
	require.NoError(t, err)
	c = new(calibrate.Calibration)
	require.NoError(t, json.Unmarshal(document, c))
	out.carried.against(t, c, mixtures)
	out.rest.against(t, c, unseenOf(other, rng, n))
	c, err = calibrate.Fit(context.Background(), known, full, o)
	require.NoError(t, err)
	out.full.against(t, c, mixtures)
	if c, err = calibrate.Fit(context.Background(), known, few, o); err == nil {
		out.alone.against(t, c, mixtures)
	}
	for _, r := range []*trial{&out.carried, &out.full, &out.alone, &out.rest} {
		r.layer, r.evidence, r.chips = c.Layer.Name, e, len(few)
	}
	out.full.chips = len(full)
	return out
}

// TestCarry is TestStudyCarry for one pair of resins: a white and two pastes of
// which the new resin has a tint each come nearly as near as by a full set, and far
// nearer than by the same chips alone.
func TestCarry(t *testing.T) {
	if underRace {
		t.Skip("fits")
	}
	r := carry(t, virtualshop.Painted(1, 5), 1, virtualshop.ThreeLights, 4, 60)
	t.Log(table("carried; full set; the few alone; pastes that no chip holds too", []trial{r.carried, r.full, r.alone, r.rest}))
	assert.Less(t, r.carried.mean, 1.3*r.full.mean)
	assert.Less(t, r.carried.mean, 0.5*r.alone.mean)
	assert.Greater(t, r.carried.channels, 0.9)
	assert.Greater(t, r.rest.channels, 0.9)
}

// TestCarriedSurface: what bare chips show of a resin does not go into its surface, for
// want of room elsewhere.
func TestCarriedSurface(t *testing.T) {
	if underRace {
		t.Skip("a fit")
	}
	s := virtualshop.Painted(104, 3)
	rng := rand.New(rand.NewPCG(104, 'r'))
	other := s.InOtherResin(rng)
	old, err := calibrate.Fit(context.Background(), s.Codes, virtualshop.Spectra.Of(s.CastAll(rng, s.Study(virtualshop.Tint))), calibrate.Options{Layer: calibrate.KubelkaMunk})
	require.NoError(t, err)
	c, err := old.Carry(context.Background(), virtualshop.Spectra.Of(other.CastAll(rng, other.Check(4, s.Codes[1:]...))), calibrate.Options{})
	require.NoError(t, err)
	truth := other.Light.(virtualshop.TwoFlux)
	assert.InDelta(t, truth.K1, c.Layer.K1, 3*c.Layer.K1SD)
	assert.InDelta(t, truth.K2, c.Layer.K2, 3*c.Layer.K2SD)
	assert.Less(t, c.Layer.K2SD, 0.015)
}
