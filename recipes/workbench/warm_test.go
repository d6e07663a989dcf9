package workbench

import (
	"testing"

	"github.com/stretchr/testify/require"

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
