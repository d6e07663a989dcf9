package workbench

import (
	"testing"

	"github.com/stretchr/testify/require"

	"masstone/color/readings"
	"masstone/recipes/ageing"
	"masstone/recipes/archive"
)

// TestReadWarm: a part read at another temperature than its target is judged as it was
// and marked; it teaches neither the drift nor other pours, and near the standard
// atmosphere of ISO 291, 23 degrees, nothing is said.
func TestReadWarm(t *testing.T) {
	b := newBench(t)
	_, r := poured(t, b)
	read := func(pour string, hours, at float64) PourReading {
		v, err := ReadPour(t.Context(), b, ReadPourRequest{Pour: pour, AgeHours: hours, PartC: &at, Again: true, Readings: Readings{Typed: []string{typed(partOf(lamp()))}}})
		require.NoError(t, err)
		return v
	}
	p := addPour(t, b, r, nil)
	require.Empty(t, read(p.Pour, ageing.SettledHours, 21).OtherWarmth)
	before, err := ShowDrift(t.Context(), b, testResin)
	require.NoError(t, err)
	warm := read(p.Pour, 24, 41)
	require.Contains(t, warm.OtherWarmth, "read at 41 °C, not near 23 °C")
	require.NotEmpty(t, warm.Remarks)
	after, err := ShowDrift(t.Context(), b, testResin)
	require.NoError(t, err)
	require.Equal(t, before, after)
	shown, err := ShowPour(t.Context(), b, p.Pour)
	require.NoError(t, err)
	require.Empty(t, shown.History[0].Doubt)
	require.NotEmpty(t, shown.History[1].Doubt)

	last := addPour(t, b, r, nil)
	readPour(t, b, last.Pour, stronger(lamp(), testShop().Codes[2], 1.3))
	v, err := Correct(t.Context(), b, usualCorrection(last.Pour))
	require.NoError(t, err)
	require.Equal(t, []string{last.Pour}, v.Pours)

	target := archive.Target{Readings: []archive.Reading{{Taken: &archive.Taken{Temperature: "40 °C"}}}}
	at := 41.0
	require.Empty(t, otherWarmth(archive.PourReading{PartC: &at}, &target))
	for text, want := range map[string]float64{"23": 23, "23.5 °C": 23.5, "22,5C": 22.5, "25 degC": 25, "-5 C": -5} {
		c, ok := celsius(text)
		require.True(t, ok, text)
		require.Equal(t, want, c, text)
	}
	for _, text := range []string{"", "warm", "NaN", "1e300"} {
		_, ok := celsius(text)
		require.False(t, ok, text)
	}
}

// TestInstrumentRepeats: a verdict counts the scatter that the instrument states in the
// place of the usual, for part and target alike: with a tenth of it the uncertainty of
// the difference is a tenth, by the propagation of JCGM 100.
func TestInstrumentRepeats(t *testing.T) {
	u := func(sd float64) (float64, Remarks) {
		b := newBench(t)
		_, err := AddInstrument(t.Context(), b, AddInstrumentRequest{Name: "sphere", RepeatSD: sd})
		require.NoError(t, err)
		target := addTarget(t, b, "lamp", lamp())
		target.Readings[0].Taken = &archive.Taken{Instrument: "sphere"}
		_, err = b.archive.PutTarget(t.Context(), target, archive.Replace)
		require.NoError(t, err)
		target, err = b.archive.Target(t.Context(), target.Client, target.Name)
		require.NoError(t, err)
		r := addRecipe(t, b, target, testResin, lamp())
		p := addPour(t, b, r, nil)
		v := readPour(t, b, p.Pour, stronger(lamp(), testShop().Codes[2], 1.05))
		return float64(v.Verdict.U), v.Remarks
	}
	fine, _ := u(0.02)
	coarse, _ := u(0.2)
	require.InDelta(t, coarse/10, fine, 1e-6)

	// and the fit expects it of chips that it read, all of them
	b := newBench(t)
	_, err := AddInstrument(t.Context(), b, AddInstrumentRequest{Name: "sphere", RepeatSD: 0.04})
	require.NoError(t, err)
	by := func(names ...string) *fitted {
		var in fitted
		for _, name := range names {
			in.cards = append(in.cards, archive.Chip{Readings: []archive.Reading{{Taken: &archive.Taken{Instrument: name}}}})
		}
		return &in
	}
	var say Remarks
	noise, err := by("sphere", "sphere").noise(t.Context(), b.archive, &say)
	require.NoError(t, err)
	require.Equal(t, 0.04, noise.LabSD)
	require.Len(t, say, 1)
	for _, other := range []*fitted{by(), by("sphere", "another"), by("another"), by("sphere", "")} {
		noise, err = other.noise(t.Context(), b.archive, &say)
		require.NoError(t, err)
		require.Nil(t, noise)
	}
}

// TestNoiseOfTheInstrument: limits of charts, what a resin's parts change by, and the
// comparison of a master with its old readings go by what the instrument repeats to.
func TestNoiseOfTheInstrument(t *testing.T) {
	for _, sd := range []float64{0.02, 0.5} {
		b, run, k := startedRun(t, 5)
		_, err := AddInstrument(t.Context(), b, AddInstrumentRequest{Name: "sphere", RepeatSD: sd})
		require.NoError(t, err)
		for range 5 { // that do not scatter, so that a reading's noise is all there is
			c := cup(t, b, run, k, 1)
			readPart(t, b, c.Pour, 1, partOf(lamp()))
		}
		v, err := ShowRun(t.Context(), b, run.Run)
		require.NoError(t, err)
		require.InDelta(t, sd, float64(*v.Charts[1].Sigma), 1e-9)

		_, r := poured(t, b)
		p := addPour(t, b, r, nil)
		readAt(t, b, p.Pour, 0, 24, lamp())
		readAt(t, b, p.Pour, 0, ageing.SettledHours, stronger(lamp(), "BK", 1.1))
		parts, _, err := agedParts(t.Context(), b.archive, testResin)
		require.NoError(t, err)
		d, err := drifts{}.of(t.Context(), b.archive, testResin)
		require.NoError(t, err)
		require.Equal(t, ageing.Learn(parts, sd), d)

		as := func(by float64) readings.Piece {
			lab := archive.LabOf(shifted(partOf(lamp()), [3]float64{by, 0, 0}))
			p, err := pieceOf("lamp", []archive.Reading{{Lab: &lab, Taken: &archive.Taken{Instrument: "sphere"}}})
			require.NoError(t, err)
			return p
		}
		f, ok, err := fadingOf(t.Context(), b.archive, as(0), as(1.5))
		require.NoError(t, err)
		require.True(t, ok)
		require.Equal(t, sd < 0.1, f.changed)
	}
}
