package workbench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color/readings"
)

// TestSpot: 1 mm of flat surface is needed round an aperture on every side (common
// practice, no source); a file may state the aperture in words.
func TestSpot(t *testing.T) {
	for name, c := range map[string]struct {
		spot   Spot
		stated string
		small  bool
	}{
		"wide enough":        {Spot{FlatMM: 10, ApertureMM: 8}, "", false},
		"just too small":     {Spot{FlatMM: 9.9, ApertureMM: 8}, "", true},
		"smaller aperture":   {Spot{FlatMM: 7, ApertureMM: 4}, "8 mm", false},
		"as the file says":   {Spot{FlatMM: 7}, "MAV 8mm", true},
		"measured and lit":   {Spot{FlatMM: 12}, "8 mm / 11 mm", true},
		"words alone":        {Spot{FlatMM: 1}, "large", false},
		"aperture not known": {Spot{FlatMM: 1}, "", false},
		"flat not known":     {Spot{ApertureMM: 8}, "", false},
	} {
		p := readings.Piece{Row: readings.Row{Circumstances: readings.Circumstances{Aperture: c.stated}}}
		assert.Equal(t, c.small, c.spot.tooSmall(p) != "", name)
	}
	assert.ErrorContains(t, Spot{FlatMM: 1e300}.check(), "flat-mm")
	assert.ErrorContains(t, Spot{ApertureMM: -1}.check(), "aperture-mm")
}

// TestCompanion: the target's flat spot counts for its pours; a chip read in the
// part's place is kept as such, and the certificate says so.
func TestCompanion(t *testing.T) {
	b := newBench(t)
	_, err := AddTarget(t.Context(), b, AddTargetRequest{Name: "lamp", Client: "Tern", Readings: reading(typed(partOf(lamp()))), Spot: Spot{FlatMM: 6, ApertureMM: 4}})
	require.NoError(t, err)
	target, err := b.archive.Target(t.Context(), "Tern", "lamp")
	require.NoError(t, err)
	p := addPour(t, b, addRecipe(t, b, target, testResin, lamp()), nil)
	part := typed(partOf(lamp()))
	ask := ReadPourRequest{Pour: p.Pour, Readings: reading(part), Spot: Spot{ApertureMM: 8}}
	v, err := ReadPour(t.Context(), b, ask)
	require.NoError(t, err)
	assert.Contains(t, remarks(v.Remarks), "a flat spot of 6 mm is too small for an aperture of 8 mm")
	assert.Contains(t, remarks(v.Remarks), "cast a flat chip of 25 mm or more")
	ask.Companion = true
	v, err = ReadPour(t.Context(), b, ask)
	require.NoError(t, err)
	assert.True(t, v.Companion)
	assert.NotContains(t, remarks(v.Remarks), "too small")
	h, err := ShowPour(t.Context(), b, p.Pour)
	require.NoError(t, err)
	assert.Equal(t, []bool{false, true}, []bool{h.History[0].Companion, h.History[1].Companion})
	c, err := castNamed(t.Context(), b.archive, p.Pour)
	require.NoError(t, err)
	certified, err := certifiedCast(t.Context(), b.archive, c)
	require.NoError(t, err)
	paper, err := certified.certificate(t.Context(), b.archive, CertificateRequest{}, b.heading(nil))
	require.NoError(t, err)
	assert.Contains(t, paper.Notes, "Read on a flat chip cast from the same cup as the part.")
}

// TestMatchedAnyway: a target that reads as no surface does is cautioned when it is
// added, and matched only when that is meant.
func TestMatchedAnyway(t *testing.T) {
	for name, c := range map[string]struct {
		typed []string
		says  string
	}{
		"above what a surface can":     {[]string{"50,84,-84"}, "where no surface passes"},
		"scatter beyond an instrument": {[]string{"50,10,5", "55,10,5", "60,10,5"}, "its readings lie CIEDE2000"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			v, err := AddTarget(t.Context(), b, AddTargetRequest{Name: "odd", Client: "Tern", Readings: reading(c.typed...)})
			require.NoError(t, err)
			require.Len(t, v.Signs, 1)
			assert.Contains(t, remarks(v.Remarks), string(v.Signs[0].Case))
			ask := MatchRequest{Target: "odd", Resin: testResin, Limits: usualLimits()}
			ask.Limits.MaxPigments = 2
			_, err = Match(t.Context(), b, ask)
			require.ErrorContains(t, err, c.says)
			require.ErrorContains(t, err, "anyway")
			require.Equal(t, Invalid, KindOf(err))
			stored, err := b.archive.Recipes(t.Context(), "Tern", "odd")
			require.NoError(t, err)
			require.Empty(t, stored)
			ask.Anyway = true
			found, err := Match(t.Context(), b, ask)
			require.NoError(t, err)
			assert.Contains(t, found.Notes[0], "matched though")
		})
	}
}
