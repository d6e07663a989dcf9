package workbench

import (
	"context"
	"fmt"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/archive"
)

// at is where readings of a piece under D65 go.
func at(t testing.TB, b *Bench, kind PieceKind, name string) ReadingPlace {
	t.Helper()
	p, err := Place(t.Context(), b, PlaceRequest{Kind: kind, Name: name, Condition: color.Condition{Illuminant: color.D65}})
	require.NoError(t, err)
	return p
}

// under are readings under D65/10.
func under(values ...[3]float64) []color.Lab {
	out := make([]color.Lab, len(values))
	for i, v := range values {
		out[i] = color.LabFrom(v, color.D65Ten())
	}
	return out
}

// openAs opens a bench once more, as another person would.
func openAs(t testing.TB, b *Bench, who string) *Bench {
	t.Helper()
	other, err := Open(t.Context(), b.Path(), Options{Now: testClock(31), Who: who, Program: "test"})
	require.NoError(t, err)
	t.Cleanup(func() { other.Close() })
	return other
}

// readingsOn are those on the newest card of a piece.
func readingsOn(t testing.TB, b *Bench, p ReadingPlace) []archive.Reading {
	t.Helper()
	if p.Kind == ChipPiece {
		c, err := b.archive.Chip(t.Context(), p.Resin, p.Name)
		require.NoError(t, err)
		return c.Readings
	}
	k, err := b.archive.Target(t.Context(), p.Client, p.Name)
	require.NoError(t, err)
	return k.Readings
}

// TestReadingsTypedAtOnceAreAllKept: people who have the card before them at the
// same time each add a reading to it, and to one that none of them saw yet.
func TestReadingsTypedAtOnceAreAllKept(t *testing.T) {
	white := NewPiece{Loadings: map[string]calibrate.PHR{"WH": 1}}
	for _, piece := range []struct {
		kind PieceKind
		name string
		had  int
		new  NewPiece
	}{{TargetPiece, "lamp", 1, NewPiece{}}, {TargetPiece, "fresh", 0, NewPiece{}}, {ChipPiece, "fresh", 0, white}} {
		t.Run(fmt.Sprint(piece.kind, " ", piece.name), func(t *testing.T) {
			b := newBench(t)
			addTarget(t, b, "lamp", lamp())
			const people = 4
			var places [people]ReadingPlace
			var benches [people]*Bench
			for i := range people {
				benches[i] = openAs(t, b, fmt.Sprint("person ", i))
				places[i] = at(t, benches[i], piece.kind, piece.name)
			}
			var wg sync.WaitGroup
			var failed [people]error
			for i := range people {
				wg.Go(func() {
					_, failed[i] = AddReadings(t.Context(), benches[i], AddReadingsRequest{Place: places[i], Labs: under([3]float64{60, float64(i), 0}), Piece: piece.new, SamePiece: true})
				})
			}
			wg.Wait()
			for _, err := range failed {
				require.NoError(t, err)
			}
			require.Len(t, readingsOn(t, b, places[0]), piece.had+people)
		})
	}
}

// TestReadingsSeenAreReplaced: readings that nobody saw are not replaced; the
// refusal says whose they are and since when.
func TestReadingsSeenAreReplaced(t *testing.T) {
	loaded := NewPiece{Loadings: map[string]calibrate.PHR{"WH": 1}}
	for _, c := range []struct {
		kind  PieceKind
		name  string
		piece NewPiece
		did   string
	}{
		{TargetPiece, "lamp", NewPiece{}, "changed"}, {TargetPiece, "fresh", NewPiece{}, "added"},
		{ChipPiece, "fresh", loaded, "added"},
		{BackingPiece, "white", NewPiece{}, "changed"}, {BackingPiece, "tile", NewPiece{}, "added"},
	} {
		t.Run(fmt.Sprint(c.kind, " ", c.name), func(t *testing.T) {
			b := newBench(t)
			addTarget(t, b, "lamp", lamp())
			seen := at(t, b, c.kind, c.name)
			ben := openAs(t, b, "ben")
			_, err := AddReadings(t.Context(), ben, AddReadingsRequest{Place: at(t, ben, c.kind, c.name), Labs: under([3]float64{60, 0, 0}), Piece: c.piece, Replace: c.kind == BackingPiece, SamePiece: true})
			require.NoError(t, err)

			r := AddReadingsRequest{Place: seen, Labs: under([3]float64{70, 0, 0}), Piece: c.piece, Replace: true}
			_, err = AddReadings(t.Context(), b, r)
			require.Equal(t, Conflict, KindOf(err), "%v", err)
			require.ErrorContains(t, err, fmt.Sprintf("%s %q was %s by ben on 2026-03-31 09:00:", c.kind, c.name, c.did))

			r.Place = at(t, b, c.kind, c.name)
			v, err := AddReadings(t.Context(), b, r)
			require.NoError(t, err)
			require.Equal(t, "changed", v.Outcome)
			require.Equal(t, 1, v.InAll)
		})
	}
}

// TestNewPieceDescribedTwice: two people who describe a new piece differently do
// not have their readings on one card.
func TestNewPieceDescribedTwice(t *testing.T) {
	white := map[string]calibrate.PHR{"WH": 1}
	for name, c := range map[string]struct {
		kind PieceKind
		a, b NewPiece
	}{
		"thickness":  {TargetPiece, NewPiece{}, NewPiece{ThicknessMM: 5}},
		"backing":    {TargetPiece, NewPiece{}, NewPiece{Over: "black"}},
		"tolerance":  {TargetPiece, NewPiece{}, NewPiece{Tolerance: 2}},
		"loadings":   {ChipPiece, NewPiece{Loadings: white}, NewPiece{Loadings: map[string]calibrate.PHR{"WH": 2}}},
		"bare":       {ChipPiece, NewPiece{Loadings: white}, NewPiece{Bare: true}},
		"chip over":  {ChipPiece, NewPiece{Loadings: white}, NewPiece{Loadings: white, Over: "black"}},
		"chip thick": {ChipPiece, NewPiece{Loadings: white}, NewPiece{Loadings: white, ThicknessMM: 2}},
		"cup":        {ChipPiece, NewPiece{Loadings: white}, NewPiece{Loadings: white, ChipGrams: 50}},
		"scale":      {ChipPiece, NewPiece{Loadings: white}, NewPiece{Loadings: white, ScaleGrams: 0.01}},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			seen := at(t, b, c.kind, "fresh")
			require.True(t, seen.New)
			_, err := AddReadings(t.Context(), b, AddReadingsRequest{Place: seen, Labs: under([3]float64{60, 0, 0}), Piece: c.a})
			require.NoError(t, err)
			_, err = AddReadings(t.Context(), b, AddReadingsRequest{Place: seen, Labs: under([3]float64{60, 0, 0}), Piece: c.b})
			require.Equal(t, Conflict, KindOf(err), "%v", err)
			require.ErrorContains(t, err, "was added by ada")
			require.Len(t, readingsOn(t, b, seen), 1)
		})
	}
}

// TestReadingsOfAPieceUnderALight: what a piece has under a light counts only
// readings under it, and readings taken another way are of another piece.
func TestReadingsOfAPieceUnderALight(t *testing.T) {
	b := newBench(t)
	add := func(r PlaceRequest, labs ...[3]float64) (AddedReadings, error) {
		r.Kind, r.Name = TargetPiece, "lamp"
		p, err := Place(t.Context(), b, r)
		require.NoError(t, err)
		var typed []color.Lab
		for _, v := range labs {
			typed = append(typed, color.LabFrom(v, p.Condition))
		}
		return AddReadings(t.Context(), b, AddReadingsRequest{Place: p, Labs: typed})
	}
	d65, a2 := color.Condition{Illuminant: color.D65}, color.Condition{Illuminant: color.A, Observer: color.TwoDegree}
	for _, c := range []struct {
		under   color.Condition
		labs    int
		outcome string
		all     int
	}{{d65, 2, "added", 2}, {a2, 3, "changed", 3}, {d65, 1, "changed", 3}, {a2, 1, "changed", 4}} {
		v, err := add(PlaceRequest{Condition: c.under}, make([][3]float64, c.labs)...)
		require.NoError(t, err)
		assert.Equal(t, c.outcome, v.Outcome)
		assert.Equal(t, c.labs, v.Readings)
		assert.Equal(t, c.all, v.InAll)
		assert.Equal(t, usualObserver(c.under).String(), v.Under)
	}
	_, err := add(PlaceRequest{Condition: d65, Measurement: color.Measurement{Specular: color.SpecularExcluded}}, [3]float64{})
	require.ErrorContains(t, err, "taken another way")
	shown, err := ShowTarget(t.Context(), b, "", "lamp")
	require.NoError(t, err)
	require.Len(t, shown.Colors, 2)
	assert.Equal(t, []int{3, 4}, []int{shown.Colors[0].Readings, shown.Colors[1].Readings})
}

// TestReadingsKeepTheirNumbers: what is left out changes no number, neither of
// the reading that does not belong nor of the ones left out. That MCDM is the
// mean difference from the mean is ASTM E2214.
func TestReadingsKeepTheirNumbers(t *testing.T) {
	b := newBench(t)
	p := at(t, b, TargetPiece, "lamp")
	labs := under([3]float64{70, 1, 1}, [3]float64{50, 1, 1}, [3]float64{50.1, 1, 1.1}, [3]float64{60, 1, 1}, [3]float64{50.2, 1, 1}, [3]float64{50.1, 1, 1})
	for _, c := range []struct {
		leaveOut []int
		left     []int
		counts   int
		odd      int // 0 for none
	}{{[]int{1}, []int{1}, 5, 4}, {[]int{4, 1, 4}, []int{1, 4}, 4, 0}, {[]int{4}, []int{4}, 5, 1}} {
		s, err := Scatter(p, labs, c.leaveOut)
		require.NoError(t, err)
		assert.Equal(t, c.left, s.LeftOut)
		assert.Equal(t, c.counts, s.Readings)
		assert.Len(t, s.From, c.counts)
		odd, sum := 0, 0.0
		if s.Outlier != nil {
			odd = *s.Outlier
		}
		assert.Equal(t, c.odd, odd)
		for _, de := range s.From {
			sum += float64(de)
		}
		assert.InDelta(t, sum/float64(c.counts), float64(s.MCDM), 1e-9)
	}
	v, err := AddReadings(t.Context(), b, AddReadingsRequest{Place: p, Labs: labs, LeaveOut: []int{1}})
	require.NoError(t, err)
	assert.Equal(t, 5, v.InAll)
	assert.Equal(t, []int{1}, v.LeftOut)
	require.Len(t, v.Remarks, 1)
	assert.Equal(t, "reading 4 does not belong to the others; read the piece again, or add ⟦leave-out=4⟧", v.Remarks[0].Text)
}

// TestScatterOfAnyReadings: the mean lies where the readings' mean is, whatever
// is left out.
func TestScatterOfAnyReadings(t *testing.T) {
	p := at(t, newBench(t), TargetPiece, "any")
	rapid.Check(t, func(t *rapid.T) {
		labs := make([]color.Lab, rapid.IntRange(2, 6).Draw(t, "readings"))
		left := rapid.IntRange(1, len(labs)).Draw(t, "left out")
		sum := 0.0
		for i := range labs {
			labs[i] = color.LabFrom([3]float64{rapid.Float64Range(0, 100).Draw(t, "L"), 0, 0}, p.Condition)
			if i+1 != left {
				sum += labs[i].L
			}
		}
		s, err := Scatter(p, labs, []int{left})
		if err != nil {
			t.Fatal(err)
		}
		if mean := sum / float64(len(labs)-1); !(float64(s.Lab.L)-mean < 1e-9 && mean-float64(s.Lab.L) < 1e-9) {
			t.Fatalf("mean %g, not %g", s.Lab.L, mean)
		}
	})
}

// TestReadingIsJudged: a typed reading that cannot be is refused at its input,
// one that is doubtful is taken with a remark.
func TestReadingIsJudged(t *testing.T) {
	p := at(t, newBench(t), TargetPiece, "lamp")
	c, err := CheckReading(p, 3, "L=66.45 a=-10.35 b=-2.6")
	require.NoError(t, err)
	assert.Equal(t, under([3]float64{66.45, -10.35, -2.6})[0], c.Lab)
	assert.Empty(t, c.Remarks)
	c, err = CheckReading(p, 3, "50 85 -85") // just beyond the optimal colours (MacAdam, J. Opt. Soc. Am. 25, 1935)
	require.NoError(t, err)
	require.Len(t, c.Remarks, 1)
	assert.True(t, c.Remarks[0].Warning)
	assert.Contains(t, c.Remarks[0].Text, "reading:3: lamp: chroma 120.2 at L* 50.0: no surface passes")
	for text, problem := range map[string]string{"66.4 -10.4": "holds 2 numbers", "500 1 1": "L* lies in 0..100", "50 87 -87": "no surface passes"} {
		_, err := CheckReading(p, 1, text)
		require.Equal(t, Invalid, KindOf(err))
		require.ErrorContains(t, err, problem)
	}
}

// TestReadingsAreRefused: what is wrong with a request is said of its input, and
// nothing is stored.
func TestReadingsAreRefused(t *testing.T) {
	b := newBench(t)
	d65 := color.Condition{Illuminant: color.D65}
	place := func(r PlaceRequest) func() error {
		return func() error { _, err := Place(t.Context(), b, r); return err }
	}
	add := func(kind PieceKind, change func(*AddReadingsRequest)) func() error {
		r := AddReadingsRequest{Place: at(t, b, kind, "fresh"), Labs: under([3]float64{60, 1, 1})}
		change(&r)
		return func() error { _, err := AddReadings(t.Context(), b, r); return err }
	}
	for name, c := range map[string]struct {
		do      func() error
		kind    Kind
		problem string
	}{
		"of what":       {place(PlaceRequest{Name: "x", Condition: d65}), Invalid, "of what?"},
		"of a pigment":  {place(PlaceRequest{Kind: "pigment", Name: "x", Condition: d65}), Invalid, "readings are of a target, a backing or a chip"},
		"no name":       {place(PlaceRequest{Kind: ChipPiece, Name: " ", Condition: d65}), Invalid, "NAME is missing"},
		"no light":      {place(PlaceRequest{Kind: TargetPiece, Name: "x"}), Invalid, "⟦illuminant⟧ is missing"},
		"no such way":   {place(PlaceRequest{Kind: TargetPiece, Name: "x", Condition: d65, Measurement: color.Measurement{Geometry: color.Directional, Specular: color.SpecularIncluded}}), Invalid, "45/0 cannot include"},
		"unknown resin": {place(PlaceRequest{Kind: ChipPiece, Name: "x", Resin: "NONE", Condition: d65}), NotFound, "NONE"},
		"none left":     {add(TargetPiece, func(r *AddReadingsRequest) { r.LeaveOut = []int{1} }), Failed, "no reading is left"},
		"left out":      {add(TargetPiece, func(r *AddReadingsRequest) { r.LeaveOut = []int{2} }), Invalid, "there are 1 reading"},
		"another light": {add(TargetPiece, func(r *AddReadingsRequest) { r.Labs[0].Under.Illuminant = color.A }), Invalid, "reading 1 is under A/10, not D65/10"},
		"empty chip":    {add(ChipPiece, func(r *AddReadingsRequest) {}), Invalid, "say what is in it"},
		"other pigment": {add(ChipPiece, func(r *AddReadingsRequest) { r.Piece.Loadings = map[string]calibrate.PHR{"ZZ": 1} }), NotFound, "ZZ"},
		"other backing": {add(TargetPiece, func(r *AddReadingsRequest) { r.Piece.Over = "grey" }), NotFound, "grey"},
		"coloured":      {add(BackingPiece, func(r *AddReadingsRequest) { r.Labs = under([3]float64{60, 5, 1}) }), Failed, "chroma 5.1 is no grey"},
		"unknown kind":  {add(TargetPiece, func(r *AddReadingsRequest) { r.Place.Kind = "pigment" }), Invalid, "readings are of"},
		"known backing": {func() error {
			return errOf(AddReadings(t.Context(), b, AddReadingsRequest{Place: at(t, b, BackingPiece, "white"), Labs: under([3]float64{90, 0, 0})}))
		}, Conflict, "add ⟦replace⟧ to replace the card"},
		"ends meanwhile": {func() error {
			ctx, cancel := context.WithCancel(t.Context())
			cancel()
			return errOf(AddReadings(ctx, b, AddReadingsRequest{Place: at(t, b, TargetPiece, "fresh"), Labs: under([3]float64{90, 0, 0})}))
		}, Failed, "canceled"},
	} {
		t.Run(name, func(t *testing.T) {
			err := c.do()
			require.Error(t, err)
			assert.Equal(t, c.kind, KindOf(err), "%v", err)
			assert.ErrorContains(t, err, c.problem)
		})
	}
	v, err := Targets(t.Context(), b, "")
	require.NoError(t, err)
	require.Empty(t, v.Targets)
}

func errOf[T any](_ T, err error) error { return err }

// TestNewBackingGivesWay: a backing stated from memory is replaced by the first
// reading of it.
func TestNewBackingGivesWay(t *testing.T) {
	b := newBench(t)
	r := 0.9
	_, err := b.archive.PutBacking(t.Context(), archive.Backing{Name: "card", Constant: &r, Source: fromMemory}, archive.Refuse)
	require.NoError(t, err)
	// Y of L* 50 is 18.42 by CIE 15:2004, 8.2.1.1.
	v, err := AddReadings(t.Context(), b, AddReadingsRequest{Place: at(t, b, BackingPiece, "card"), Labs: under([3]float64{49, 0, 0}, [3]float64{51, 0, 0})})
	require.NoError(t, err)
	require.Equal(t, "changed", v.Outcome)
	card, err := b.archive.Backing(t.Context(), "card")
	require.NoError(t, err)
	require.InDelta(t, 0.184, *card.Constant, 1e-9)
}
