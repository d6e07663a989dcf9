package workbench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/calibrate/castplan"
	"masstone/color"
	"masstone/recipes/archive"
	"masstone/recipes/papers"
)

// planOn makes a plan for a resin NEW without a chip.
func planOn(t testing.TB) (*Bench, PlanResult) {
	t.Helper()
	b := shelf(t, archive.Pigment{Code: "TW", CIName: "PW6"}, archive.Pigment{Code: "KK", CIName: "PBk7", MaxPHR: 1})
	v, err := PlanStart(t.Context(), b, PlanStartRequest{Resin: "NEW", Pigments: []string{"TW", "KK"}, Evidence: calibrate.LabEvidence})
	require.NoError(t, err)
	return b, v
}

// TestPlansAreKept: a plan has a number, is stored once though asked for twice,
// and shows as it was made.
func TestPlansAreKept(t *testing.T) {
	b, first := planOn(t)
	require.Equal(t, "PL1", first.Plan)
	require.Equal(t, "First chips", first.Title)
	again, err := PlanStart(t.Context(), b, PlanStartRequest{Resin: "NEW", Pigments: []string{"TW", "KK"}, Evidence: calibrate.LabEvidence})
	require.NoError(t, err)
	require.Equal(t, first, again)
	other, err := PlanStart(t.Context(), b, PlanStartRequest{Resin: "NEW", Pigments: []string{"TW"}, Evidence: calibrate.LabEvidence})
	require.NoError(t, err)
	require.Equal(t, "PL2", other.Plan)
	for _, name := range []string{"PL1", "pl1", "1"} {
		shown, err := ShowPlan(t.Context(), b, name)
		require.NoError(t, err)
		require.Equal(t, first, shown)
	}
	_, err = ShowPlan(t.Context(), b, "PL9")
	require.Equal(t, NotFound, KindOf(err))
	list, err := Plans(t.Context(), b, "")
	require.NoError(t, err)
	require.Len(t, list.Plans, 2)
	require.Equal(t, ListedPlan{"PL1", first.At, "ada", "NEW", "First chips", nil, len(first.Chips), first.Cups, 0}, list.Plans[1])
	list, err = Plans(t.Context(), b, testResin)
	require.NoError(t, err)
	require.Empty(t, list.Plans)
	_, err = Plans(t.Context(), b, "nix")
	require.Equal(t, NotFound, KindOf(err))

	// bare resin over white and over black is weighed once
	at := map[string]PlannedChip{}
	for _, c := range first.Chips {
		at[c.Chip] = c
		assert.LessOrEqual(t, float64(c.Loadings["KK"]), 1.0, c.Chip)
	}
	require.Equal(t, at["resin-white"].Cup, at["resin-black"].Cup)
	require.Equal(t, len(first.Chips)-1, first.Cups)
	next, err := PlanNext(t.Context(), b, PlanNextRequest{Resin: testResin, Count: 1})
	require.NoError(t, err)
	require.Equal(t, "PL3", next.Plan)
	require.Equal(t, "Next chips after CLR v1", next.Title)
	shown, err := ShowPlan(t.Context(), b, "PL3")
	require.NoError(t, err)
	require.Equal(t, next, shown)
}

// TestPlannedChips: the code on a label leads to the chip as planned, and its
// readings need nothing more.
func TestPlannedChips(t *testing.T) {
	b, v := planOn(t)
	const name = "TW2-KK0.26-white"
	code := papers.RefTo(papers.ChipRef, "NEW", name).String()
	found, err := LookUp(t.Context(), b, LookupRequest{What: code})
	require.NoError(t, err)
	chip, err := ShowChip(t.Context(), b, found.Within, found.Name)
	require.NoError(t, err)
	require.Equal(t, "PL1", chip.Planned)
	require.InDelta(t, 0.26, float64(chip.Loadings["KK"]), 1e-9)
	require.Empty(t, chip.Readings)
	found, err = LookUp(t.Context(), b, LookupRequest{What: "PL1"})
	require.NoError(t, err)
	require.Equal(t, Lookup{papers.PlanRef, "PL1", ""}, found)

	place, err := Place(t.Context(), b, PlaceRequest{Name: code})
	require.NoError(t, err)
	require.Equal(t, ChipPiece, place.Kind)
	require.Equal(t, name, place.Name)
	require.Equal(t, "NEW", place.Resin)
	require.Equal(t, "PL1", place.Plan)
	require.Equal(t, color.D65Ten(), place.Condition, "the light of the plan")
	lab := color.Lab{L: 60, A: 1, B: -3, Under: color.D65Ten()}
	read, err := AddReadings(t.Context(), b, AddReadingsRequest{Place: place, Labs: []color.Lab{lab}})
	require.NoError(t, err)
	require.Equal(t, "added", read.Outcome)
	require.Equal(t, "PL1", read.Plan)
	card, err := b.archive.Chip(t.Context(), "NEW", name)
	require.NoError(t, err)
	require.Equal(t, map[string]float64{"TW": 2, "KK": 0.26}, card.Loadings)
	require.Equal(t, []any{"white", 3.0, 50.0, 0.01}, []any{card.Backing, card.ThicknessMM, card.ChipGrams, card.ScaleGrams})
	shown, err := ShowPlan(t.Context(), b, v.Plan)
	require.NoError(t, err)
	require.Equal(t, 1, shown.Read)
	require.Contains(t, shown.Notes, "Read so far: "+name+".")

	// what was cast otherwise is said
	place, err = Place(t.Context(), b, PlaceRequest{Kind: ChipPiece, Resin: "NEW", Name: "KK1-white", Condition: color.Under(color.D50, color.TwoDegree)})
	require.NoError(t, err)
	require.Equal(t, color.Under(color.D50, color.TwoDegree), place.Condition)
	lab.Under = place.Condition
	_, err = AddReadings(t.Context(), b, AddReadingsRequest{Place: place, Labs: []color.Lab{lab}, Piece: NewPiece{Loadings: map[string]calibrate.PHR{"KK": 0.97}, ThicknessMM: 2.8}})
	require.NoError(t, err)
	card, err = b.archive.Chip(t.Context(), "NEW", "KK1-white")
	require.NoError(t, err)
	require.Equal(t, []any{0.97, 2.8, "white", 50.0}, []any{card.Loadings["KK"], card.ThicknessMM, card.Backing, card.ChipGrams})

	// it waits to be cast until its last chip is read
	shown, err = ShowPlan(t.Context(), b, v.Plan)
	require.NoError(t, err)
	for _, c := range shown.Chips {
		if c.Read {
			continue
		}
		today, err := Today(t.Context(), b, 5)
		require.NoError(t, err)
		require.Len(t, today.ToCast, 1, c.Chip)
		require.Equal(t, "PL1", today.ToCast[0].Plan)
		place, err := Place(t.Context(), b, PlaceRequest{Kind: ChipPiece, Resin: "NEW", Name: c.Chip, Condition: lab.Under})
		require.NoError(t, err)
		_, err = AddReadings(t.Context(), b, AddReadingsRequest{Place: place, Labs: []color.Lab{lab}})
		require.NoError(t, err)
	}
	today, err := Today(t.Context(), b, 5)
	require.NoError(t, err)
	require.Empty(t, today.ToCast)

	// a code is no name
	for bad, says := range map[string]PlaceRequest{
		"but a backing is wanted": {Kind: BackingPiece, Name: code},
		"the code of a pour":      {Name: "masstone:pour/P1"},
		"the code of a plan":      {Kind: TargetPiece, Name: "masstone:plan/PL1"},
	} {
		says.Condition = color.D65Ten()
		_, err := Place(t.Context(), b, says)
		require.ErrorContains(t, err, bad)
		require.Equal(t, Invalid, KindOf(err))
	}
	place, err = Place(t.Context(), b, PlaceRequest{Name: "masstone:target/Tern/lamp", Condition: color.D65Ten()})
	require.NoError(t, err)
	require.Equal(t, []string{"Tern", "lamp"}, []string{place.Client, place.Name})
}

// TestInstrument: a plan is for what the bench's instrument gives, by the chips
// of the resin, else of other resins, else by targets.
func TestInstrument(t *testing.T) {
	d50 := color.Under(color.D50, color.TwoDegree)
	lab := func(under color.Condition) archive.Reading {
		l := archive.LabOf(color.Lab{L: 50, Under: under})
		return archive.Reading{Lab: &l}
	}
	spectrum := archive.Reading{Spectrum: &archive.Spectrum{}}
	chip := func(r ...archive.Reading) archive.Chip { return archive.Chip{Readings: r} }
	b := newBench(t)
	for name, c := range map[string]struct {
		chips []archive.Chip
		want  castplan.Reading
		as    string
	}{
		"one light":        {[]archive.Chip{chip(lab(d50))}, castplan.Reading{Lights: []color.Condition{d50}}, "the chips of this resin"},
		"most":             {[]archive.Chip{chip(lab(d50)), chip(spectrum), chip(lab(color.D65Ten()), spectrum)}, castplan.Reading{Spectrum: true}, "the chips of this resin"},
		"read three times": {[]archive.Chip{chip(lab(d50), lab(d50), lab(d50))}, castplan.Reading{Lights: []color.Condition{d50}}, "the chips of this resin"},
		"of other resins":  {nil, castplan.Reading{Lights: []color.Condition{color.D65Ten()}}, "the chips of other resins"},
	} {
		t.Run(name, func(t *testing.T) {
			read, as, err := instrument(t.Context(), b.archive, c.chips)
			require.NoError(t, err)
			require.Equal(t, c.want, read)
			require.Equal(t, c.as, as)
		})
	}
	v, err := PlanStart(t.Context(), b, PlanStartRequest{Resin: testResin})
	require.NoError(t, err)
	require.Equal(t, []string{"D65/10"}, v.Lights)
}
