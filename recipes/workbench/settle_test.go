package workbench

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/ageing"
	"masstone/recipes/archive"
)

// yellowing is what a part of the resin of these tests still changes by at an age:
// it yellows by 2 in all, with a time constant of 40 h.
func yellowing(hours float64) [3]float64 {
	left := math.Exp(-hours / 40)
	return [3]float64{0, 0.1 * left, -2 * left}
}

// readAt reads a part of a pour at an age, as it changes by yellowing.
func readAt(t testing.TB, b *Bench, pour string, part int, hours float64, as map[string]float64) PourReading {
	t.Helper()
	v, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: pour, Part: part, AgeHours: hours, Again: true,
		Readings: Readings{Typed: []string{typed(shifted(partOf(as), yellowing(hours)))}}})
	require.NoError(t, err)
	return v
}

// TestSettled: until a resin's drift is learnt a young part's verdict assumes
// nothing and is less sure; once parts were read at two ages it is told where a part
// will end, and a correction goes by that.
func TestSettled(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	p := addPour(t, b, r, nil)
	young := readAt(t, b, p.Pour, 0, 24, lamp())
	s := young.Verdict.Settled
	require.NotNil(t, s)
	assert.Zero(t, s.Parts)
	assert.Zero(t, s.DB)
	assert.Equal(t, "common practice, no source", s.Source)
	assert.Equal(t, young.Verdict.Difference, s.Difference)
	assert.Less(t, float64(s.Chance), float64(young.Verdict.Chance)+1e-9)
	assert.Greater(t, float64(s.High95-s.Low95), 0.4)
	assert.Contains(t, young.Verdict.SettledLine(), "nothing is assumed")

	settled := readAt(t, b, p.Pour, 0, ageing.SettledHours, lamp())
	assert.Nil(t, settled.Verdict.Settled, "a settled part is what it is")
	for range 4 {
		p := addPour(t, b, r, nil)
		readAt(t, b, p.Pour, 0, 24, lamp())
		readAt(t, b, p.Pour, 0, 72, lamp())
		readAt(t, b, p.Pour, 0, ageing.SettledHours, lamp())
	}
	last := addPour(t, b, r, nil)
	v := readAt(t, b, last.Pour, 0, 24, lamp())
	s = v.Verdict.Settled
	require.NotNil(t, s)
	assert.Equal(t, 5, s.Parts)
	want := yellowing(ageing.SettledHours)[2] - yellowing(24)[2]
	assert.InDelta(t, want, float64(s.DB), 0.08)
	assert.Greater(t, float64(v.Verdict.Difference), 0.3)
	assert.Less(t, float64(s.Difference), 0.12)
	assert.Less(t, float64(s.High95), 0.5)
	assert.Contains(t, v.Verdict.SettledLine(), "learnt from 5 parts")

	c, err := Correct(t.Context(), b, CorrectRequest{Pour: last.Pour, MaxPigments: 4, ScaleGrams: 0.01, BatchGrams: 100})
	require.NoError(t, err)
	assert.Equal(t, "live with it", c.Best, "it will be right once settled")
	assert.Less(t, float64(c.Ways[0].Expected), 0.25)

	d, err := ShowDrift(t.Context(), b, testResin)
	require.NoError(t, err)
	assert.Equal(t, 5, d.Parts)
	assert.InDelta(t, want, float64(d.From[1].DB), 0.08)
	assert.Less(t, float64(d.TauLow), 40.0)
	assert.Greater(t, float64(d.TauHigh), 40.0)

	// an approval says where the part will end
	a, err := Approve(t.Context(), b, ApproveRequest{Recipe: r.ID(), Pours: []string{last.Pour}})
	require.NoError(t, err)
	require.NotEmpty(t, a.Remarks)
	assert.Contains(t, a.Remarks[0].Text, "expected at 7 d")
}

// TestReadAgainAtAnAge: a reading put right at the same age replaces the wrong one in
// what is learnt of the resin too.
func TestReadAgainAtAnAge(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	p := addPour(t, b, r, nil)
	readAt(t, b, p.Pour, 0, 24, stronger(lamp(), "BK", 2)) // of another piece
	readAt(t, b, p.Pour, 0, 24, lamp())
	readAt(t, b, p.Pour, 0, ageing.SettledHours, lamp())
	parts, _, err := agedParts(t.Context(), b.archive, testResin)
	require.NoError(t, err)
	require.Len(t, parts, 1)
	require.Len(t, parts[0], 2)
	want := partOf(lamp()).Values()
	assert.InDelta(t, want[0], parts[0][0].Lab[0], 0.01)
}

// TestChangeOfAMean: the mean of a settled and a young part changes by half of what
// the young one does.
func TestChangeOfAMean(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	p := addPour(t, b, r, nil)
	readAt(t, b, p.Pour, 0, 24, lamp())
	readAt(t, b, p.Pour, 0, ageing.SettledHours, lamp())
	young := archive.PourReading{AgeHours: 24, Readings: make([]archive.Reading, 1)}
	settled := archive.PourReading{Readings: make([]archive.Reading, 1)}
	one, err := drifts{}.change(t.Context(), b.archive, testResin, young)
	require.NoError(t, err)
	both, err := drifts{}.change(t.Context(), b.archive, testResin, settled, young)
	require.NoError(t, err)
	assert.Equal(t, 24.0, both.hours)
	assert.Greater(t, one.by[2], 0.2)
	assert.InDelta(t, one.by[2]/2, both.by[2], 1e-12)
}

// TestPartsNotNamed: of a cup of several parts readings that name none may be of
// different ones, and teach nothing.
func TestPartsNotNamed(t *testing.T) {
	b, run, k := startedRun(t, 9)
	c := cup(t, b, run, k, 3)
	readAt(t, b, c.Pour, 0, 24, lamp())
	readAt(t, b, c.Pour, 0, ageing.SettledHours, lamp())
	parts, _, err := agedParts(t.Context(), b.archive, testResin)
	require.NoError(t, err)
	assert.Empty(t, parts)
	readAt(t, b, c.Pour, 2, 24, lamp())
	readAt(t, b, c.Pour, 2, ageing.SettledHours, lamp())
	parts, _, err = agedParts(t.Context(), b.archive, testResin)
	require.NoError(t, err)
	assert.Len(t, parts, 1)
}

// TestReadAlikeAtAges: what was read another way or under another light than first
// says nothing of how a part changed.
func TestReadAlikeAtAges(t *testing.T) {
	at := func(hours float64, lab color.Lab, specular string) archive.PourReading {
		l := archive.LabOf(lab)
		return archive.PourReading{AgeHours: hours, Readings: []archive.Reading{{Lab: &l, Geometry: "d/8", Specular: specular}}}
	}
	lab := [3]float64{50, 1, 2}
	of, err := readAtAges([]archive.PourReading{
		at(24, color.LabFrom(lab, color.D65Ten()), "included"),
		at(48, color.LabFrom(lab, color.D65Ten()), "excluded"),
		at(72, color.LabFrom(lab, color.Under(color.A, color.TenDegree)), "included"),
		at(168, color.LabFrom(lab, color.D65Ten()), "included"),
	})
	require.NoError(t, err)
	assert.Equal(t, []ageing.Reading{{Hours: 24, Lab: lab, Count: 1}, {Hours: 168, Lab: lab, Count: 1}}, of)
}

// TestNoAge: a part of which no age was said counts as settled, and that is said
// where it is young by its days.
func TestNoAge(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	p := addPour(t, b, r, nil)
	v := readPour(t, b, p.Pour, lamp())
	assert.Nil(t, v.Verdict.Settled)
	require.NotEmpty(t, v.Remarks)
	assert.Contains(t, v.Remarks[len(v.Remarks)-1].Text, "its age was not said")
}

// TestPartsOfACupAreAveraged: a correction goes by all parts of a cup that were
// read, not by the last; one read again counts once.
func TestPartsOfACupAreAveraged(t *testing.T) {
	b, run, k := startedRun(t, 9)
	c := cup(t, b, run, k, 3)
	off := func(part int, db float64) {
		readPart(t, b, c.Pour, part, shifted(partOf(lamp()), [3]float64{0, 0, db}))
	}
	off(1, 5)
	off(1, 0.9)
	off(2, 1.2)
	off(3, 0.6)
	v, err := Correct(t.Context(), b, CorrectRequest{Pour: c.Pour, MaxPigments: 4, ScaleGrams: 0.01, BatchGrams: 100})
	require.NoError(t, err)
	assert.InDelta(t, 0.9, float64(v.Verdict.DB), 0.011)
	assert.Contains(t, v.Notes, c.Pour+" counts by the mean of its parts 1, 2, 3")

	of, err := castNamed(t.Context(), b.archive, c.Pour)
	require.NoError(t, err)
	pour, err := of.asPour(t.Context(), b.archive, drifts{})
	require.NoError(t, err)
	assert.Equal(t, 3, pour.Readings)
}

// TestRunSettles: in a run a part that was read young counts as it will be: cups read
// after a day and cups read after a week are one level, not a drift.
func TestRunSettles(t *testing.T) {
	b, run, k := startedRun(t, 30)
	for n := range 8 {
		c := cup(t, b, run, k, 1)
		readAt(t, b, c.Pour, 1, 24, lamp())
		if n < 4 {
			readAt(t, b, c.Pour, 1, ageing.SettledHours, lamp())
		}
	}
	v, err := ShowRun(t.Context(), b, run.Run)
	require.NoError(t, err)
	assert.Empty(t, v.Drift)
	require.Len(t, v.Cups, 8)
	assert.False(t, v.Cups[0].Read[0].Settled)
	last := v.Cups[7].Read[0]
	assert.True(t, last.Settled)
	assert.InDelta(t, 0, float64(last.DB), 0.12)
	assert.Equal(t, "within", last.Decision)
	assert.Greater(t, float64(last.u), float64(last.verdict.U), "that of the change counts")
	assert.Equal(t, last.u, v.Summary.U)
}

// TestReadLaterIsNoRepeat: the same colour a week later is a reading of its own.
func TestReadLaterIsNoRepeat(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	p := addPour(t, b, r, nil)
	for _, hours := range []float64{24, ageing.SettledHours} {
		_, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: p.Pour, AgeHours: hours, Readings: Readings{Typed: []string{typed(partOf(lamp()))}}})
		require.NoError(t, err)
	}
}

// TestApprovedYoungAndOff: an approval warns where a young part is expected to miss.
func TestApprovedYoungAndOff(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	p := addPour(t, b, r, nil)
	readAt(t, b, p.Pour, 0, 24, stronger(lamp(), "BK", 2))
	a, err := Approve(t.Context(), b, ApproveRequest{Recipe: r.ID(), Pours: []string{p.Pour}})
	require.NoError(t, err)
	warned := false
	for _, said := range a.Remarks {
		warned = warned || said.Warning && strings.Contains(said.Text, "expected at 7 d")
	}
	assert.True(t, warned, a.Remarks)
}

// TestCountedAlike: parts read in two ways have no mean; those read as the newest count.
func TestCountedAlike(t *testing.T) {
	lab := archive.LabOf(partOf(lamp()))
	part := func(n int, specular string) archive.PourReading {
		return archive.PourReading{Part: n, Readings: []archive.Reading{{Lab: &lab, Geometry: "d/8", Specular: specular}}}
	}
	of, err := cast{readings: []archive.PourReading{part(1, "included"), part(2, "excluded"), part(3, "included")}}.counted()
	require.NoError(t, err)
	require.Len(t, of, 2)
	assert.Equal(t, []int{1, 3}, []int{of[0].Part, of[1].Part})
}

// TestYoungPoursTeach: pours read young count in a fit as they are expected to be once
// settled, and all of them together tell of what they share no more than one.
func TestYoungPoursTeach(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	readAt(t, b, addPour(t, b, r, nil).Pour, 0, 24, lamp())
	fit := func(r FitRequest) fitted {
		in, err := r.chips(t.Context(), b.archive, testResin, nil, new(Remarks))
		require.NoError(t, err)
		return in
	}
	in := fit(FitRequest{})
	require.Equal(t, 1, in.young.Pours)
	assert.Equal(t, "common practice, no source", in.young.Source)
	assert.Equal(t, in.young.SD, in.young.Counts)
	byPrior := in.pours[0].chip
	assert.InDelta(t, 0.3, byPrior.OpenSD, 0.1)

	for range 4 { // parts that teach how the resin's change
		p := addPour(t, b, r, nil)
		readAt(t, b, p.Pour, 0, 24, lamp())
		readAt(t, b, p.Pour, 0, ageing.SettledHours, lamp())
	}
	readAt(t, b, addPour(t, b, r, nil).Pour, 0, 24, lamp())
	in = fit(FitRequest{})
	require.Len(t, in.pours, 6)
	require.Equal(t, 2, in.young.Pours)
	require.Equal(t, 4, in.young.Parts)
	for i, p := range in.pours {
		if i == 0 || i == 5 {
			assert.InDelta(t, partOf(lamp()).B, p.chip.Labs[0].B, 0.1, "as once settled")
			assert.Less(t, p.chip.OpenSD, byPrior.OpenSD)
			assert.Greater(t, p.chip.OpenSD, float64(in.young.SD))
			all, alike := p.still.cov[0][0]+p.still.cov[1][1]+p.still.cov[2][2], p.still.alike[0][0]+p.still.alike[1][1]+p.still.alike[2][2]
			assert.InDelta(t, ((all-alike)/2+alike)/3, p.chip.OpenSD*p.chip.OpenSD/2, 1e-9, "of the mean of two")
			continue
		}
		assert.Zero(t, p.chip.OpenSD, "read again once settled")
	}
	in = fit(FitRequest{Evidence: calibrate.LabEvidence, Main: color.D65Ten()})
	require.Equal(t, 2, in.young.Pours)
}
