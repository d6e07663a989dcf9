package workbench

import (
	"bytes"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/figure"
	"masstone/recipes/papers"
)

// asFile is a file of readings of that text.
func asFile(name, text string) File { return File{Name: name, Data: strings.NewReader(text)} }

func otherResinRequest() AddResinRequest {
	return AddResinRequest{Code: "NEW", Mix: batch.Ratio{A: 2, B: 1}, AGramsPerML: 1.1, BGramsPerML: 1, PigmentSide: "A"}
}

func TestAddResin(t *testing.T) {
	b := newBench(t)
	v, err := AddResin(t.Context(), b, otherResinRequest())
	require.NoError(t, err)
	assert.Equal(t, "added", v.Outcome)
	assert.Equal(t, "2:1", v.Mix)
	assert.Empty(t, v.Remarks)
	for name, c := range map[string]struct {
		change  func(*AddResinRequest)
		outcome string
		kind    Kind
		says    string
	}{
		"the same":     {func(r *AddResinRequest) {}, "unchanged", Failed, ""},
		"another":      {func(r *AddResinRequest) { r.MaxPHR = 3 }, "", Conflict, "to replace the card; nothing was changed"},
		"no mix":       {func(r *AddResinRequest) { r.Mix = batch.Ratio{} }, "", Invalid, "resin NEW: ⟦mix⟧ is missing"},
		"no side":      {func(r *AddResinRequest) { r.PigmentSide = "" }, "", Invalid, "⟦pigment-side⟧ is missing"},
		"another side": {func(r *AddResinRequest) { r.PigmentSide = "C" }, "", Invalid, "give A or B"},
		"no density":   {func(r *AddResinRequest) { r.Code, r.BGramsPerML = "THIN", 0 }, "added", Failed, ""},
	} {
		r := otherResinRequest()
		c.change(&r)
		v, err := AddResin(t.Context(), b, r)
		if c.says != "" {
			assert.ErrorContains(t, err, c.says, name)
			assert.Equal(t, c.kind, KindOf(err), name)
			continue
		}
		require.NoError(t, err, name)
		assert.Equal(t, c.outcome, v.Outcome, name)
		assert.Len(t, v.Remarks, map[bool]int{true: 1}[r.BGramsPerML == 0], name)
	}
	r := otherResinRequest()
	r.MaxPHR, r.Replace = 3, true
	v, err = AddResin(t.Context(), b, r)
	require.NoError(t, err)
	assert.Equal(t, "changed", v.Outcome)
	all, err := Resins(t.Context(), b)
	require.NoError(t, err)
	assert.Len(t, all.Resins, 3)
	shown, err := ShowResin(t.Context(), b, "NEW")
	require.NoError(t, err)
	assert.Equal(t, v.Resin, shown)
}

// TestGreyBacking: a constant stands for a backing up to a chroma of 5, and is
// the luminous reflectance of its Lab (CIE 15:2018 8.2.1: Y of L* 50 is 18.42).
func TestGreyBacking(t *testing.T) {
	for chroma, grey := range map[float64]bool{0: true, 3: true, 4.99: true, 5.01: false, 7: false, 24: false} {
		b := newBench(t)
		// along b*, and aslant
		for name, lab := range map[string]string{"b*": fmt.Sprintf("50,0,%g", chroma), "aslant": fmt.Sprintf("50,%g,%g", -0.6*chroma, 0.8*chroma)} {
			v, err := AddBacking(t.Context(), b, AddBackingRequest{Name: name, Readings: Readings{Typed: []string{lab}, Condition: color.Condition{Illuminant: color.D65}}})
			if !grey {
				assert.ErrorContains(t, err, "is no grey; give its spectrum with ⟦file⟧", "%s %g", name, chroma)
				_, err = b.archive.Backing(t.Context(), name)
				assert.ErrorIs(t, err, archive.ErrNotFound)
				continue
			}
			require.NoError(t, err, "%s %g", name, chroma)
			assert.EqualValues(t, 0.184, *v.Reflectance)
		}
	}
}

func TestAddBacking(t *testing.T) {
	const tile = "name,R400,R420,R440,R460,R480,R500,R520,R540,R560,R580,R600,R620,R640,R660,R680,R700\n"
	spectrum := func(name string, r float64) string {
		return name + strings.Repeat(fmt.Sprintf(",%g", r), 16) + "\n"
	}
	read := func(text string) Readings {
		f, fractions := asFile("tile.csv", text), false
		f.Options.Percent = &fractions
		return Readings{File: &f}
	}
	factor := func(v float64) *float64 { return &v }
	lab := Readings{Typed: []string{"92,0,1", "94,0,1"}, Condition: color.Condition{Illuminant: color.D65}}
	b := newBench(t)
	_, err := AddBacking(t.Context(), b, AddBackingRequest{Name: "stated", Reflectance: factor(0.5)})
	require.NoError(t, err)
	_, err = b.archive.PutBacking(t.Context(), archive.Backing{Name: "new bench's", Constant: factor(0.9), Source: fromMemory}, archive.Refuse)
	require.NoError(t, err)
	for _, c := range []struct {
		name    string
		r       AddBackingRequest
		outcome string
		is      float64 // reflectance, or that at 400 nm
		says    string
		kind    Kind
	}{
		{"stated", AddBackingRequest{Name: "card", Reflectance: factor(0)}, "added", 0, "", Failed},
		{"the same", AddBackingRequest{Name: "stated", Reflectance: factor(0.5)}, "unchanged", 0.5, "", Failed},
		{"another", AddBackingRequest{Name: "stated", Reflectance: factor(0.6)}, "", 0, "add ⟦replace⟧ to replace the card; nothing was changed", Conflict},
		{"replaced", AddBackingRequest{Name: "stated", Reflectance: factor(0.6), Replace: true}, "changed", 0.6, "", Failed},
		{"from memory gives way", AddBackingRequest{Name: "new bench's", Reflectance: factor(0.88)}, "changed", 0.88, "", Failed},
		{"but once", AddBackingRequest{Name: "new bench's", Reflectance: factor(0.87)}, "", 0, "to replace the card", Conflict},
		{"mean of two", AddBackingRequest{Name: "grey", Readings: lab}, "added", 0.830, "", Failed}, // Y of L* 93: 100 (109/116)^3 = 82.97
		{"a spectrum", AddBackingRequest{Name: "tile", Readings: read(tile + spectrum("a", 0.8))}, "added", 0.8, "", Failed},
		{"one of two", AddBackingRequest{Name: "tile 2", Readings: Readings{File: read(tile + spectrum("a", 0.8) + spectrum("b", 0.7)).File, Row: "b"}}, "added", 0.7, "", Failed},
		{"which of two", AddBackingRequest{Name: "tile 3", Readings: read(tile + spectrum("a", 0.8) + spectrum("b", 0.7))}, "", 0, "say which with ⟦row⟧, one of a, b", Invalid},
		{"no spectrum", AddBackingRequest{Name: "tile 3", Readings: read("name,L_D65,a_D65,b_D65\na,90,0,1\n")}, "", 0, "holds no spectrum of a", Failed},
		{"no light", AddBackingRequest{Name: "grey 2", Readings: Readings{Typed: []string{"92,0,1"}}}, "", 0, "⟦illuminant⟧ is missing", Invalid},
		{"nothing", AddBackingRequest{Name: "none"}, "", 0, "give one of", Invalid},
		{"two", AddBackingRequest{Name: "two", Reflectance: factor(0.5), Readings: lab}, "", 0, "give one of", Invalid},
		{"an index alone", AddBackingRequest{Name: "wet", Reflectance: factor(0.5), Index: 1.47}, "", 0, "⟦index⟧ is for ⟦dry⟧", Invalid},
		// what turns all light back does so across a gap
		{"dry white", AddBackingRequest{Name: "dry", Reflectance: factor(1), Dry: true}, "added", 1, "", Failed},
		{"dry spectrum", AddBackingRequest{Name: "dry tile", Readings: read(tile + spectrum("a", 1)), Dry: true, Index: 1.47}, "added", 1, "", Failed},
	} {
		v, err := AddBacking(t.Context(), b, c.r)
		if c.says != "" {
			assert.ErrorContains(t, err, c.says, c.name)
			assert.Equal(t, c.kind, KindOf(err), c.name)
			continue
		}
		require.NoError(t, err, c.name)
		assert.Equal(t, c.outcome, v.Outcome, c.name)
		if v.Spectrum != nil {
			assert.InDelta(t, c.is, v.Spectrum.R[0], 1e-9, c.name)
		} else {
			assert.InDelta(t, c.is, float64(*v.Reflectance), 1e-9, c.name)
		}
		assert.Equal(t, c.outcome == "changed", slices.ContainsFunc(v.Remarks, func(r Remark) bool { return strings.Contains(r.Text, "calibrations keep the backing") }), c.name)
	}
	black, err := AddBacking(t.Context(), b, AddBackingRequest{Name: "dry black", Reflectance: factor(0), Dry: true})
	require.NoError(t, err)
	assert.InDelta(t, 0.596, float64(*black.Reflectance), 5e-4) // diffuse light from within at an index of 1.5: Judd 1942
	assert.Equal(t, "stated, across a gap of air (index 1.5)", black.Source)
}

// TestJoinedChips: of an instrument file and of what was poured, the thickness
// and backing are the poured file's, else those read, else those asked for.
func TestJoinedChips(t *testing.T) {
	const poured, read = "chip,WH\nj1,1\nj2,2\n", "name,L_D65,a_D65,b_D65\nj1,80,0,1\nj1,80.2,0,1\nj2,82,0,1\n"
	with := func(text, head, cell string) string {
		lines := strings.Split(strings.TrimSpace(text), "\n")
		for i := range lines {
			lines[i] += "," + map[bool]string{true: head, false: cell}[i == 0]
		}
		return strings.Join(lines, "\n") + "\n"
	}
	for name, c := range map[string]struct {
		poured, read string
		asked        float64
		over         string
		mm           float64
		lies         string
		says         string
	}{
		"asked for":             {poured, read, 3, "white", 3, "white", ""},
		"thickness read":        {poured, with(read, "thickness_mm", "2.5"), 0, "white", 2.5, "white", ""},
		"read before asked":     {poured, with(read, "thickness_mm", "2.5"), 3, "white", 2.5, "white", ""},
		"poured before read":    {with(poured, "thickness_mm", "2"), with(read, "thickness_mm", "2.5"), 3, "white", 2, "white", ""},
		"backing read":          {poured, with(read, "backing", "black"), 3, "white", 3, "black", ""},
		"poured backing":        {with(poured, "backing", "white"), with(read, "backing", "black"), 3, "", 3, "white", ""},
		"no thickness":          {poured, read, 0, "white", 0, "", "poured.csv: j1: neither file says how thick it is; add a column thickness_mm, or say ⟦thickness⟧ for all"},
		"no backing":            {poured, read, 3, "", 0, "", "poured.csv: j1: neither file says what it lay on; add a column backing, or say ⟦over⟧ for all"},
		"read, yet not poured":  {"chip,WH\nj1,1\n", read, 3, "white", 0, "", "read.csv:4: j2: was read, but what is in it is not said"},
		"poured, yet not read":  {poured + "j3,3\n", read, 3, "white", 3, "white", ""},
		"of a pigment not here": {with(poured, "ZZ", "1"), read, 3, "white", 0, "", "ZZ"},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t)
			chips, instrument := asFile("poured.csv", c.poured), asFile("read.csv", c.read)
			for _, f := range []*File{&chips, &instrument} {
				f.Options = readings.Options{Backing: c.over, ThicknessMM: c.asked}
			}
			v, err := ImportChips(t.Context(), b, ImportChipsRequest{Chips: chips, Readings: &instrument, ChipGrams: 50, ScaleGrams: 0.01})
			if c.says != "" {
				require.ErrorContains(t, err, c.says)
				return
			}
			require.NoError(t, err)
			assert.Equal(t, []string{"j1", "j2"}, v.Added)
			for chip, n := range map[string]int{"j1": 2, "j2": 1} {
				is, err := ShowChip(t.Context(), b, testResin, chip)
				require.NoError(t, err)
				assert.EqualValues(t, c.mm, is.ThicknessMM)
				assert.Equal(t, c.lies, is.Over)
				assert.EqualValues(t, 50, *is.ChipGrams)
				assert.Len(t, is.Readings, n)
			}
			if strings.Contains(c.poured, "j3") {
				require.Len(t, v.Remarks, 4) // one for the notes of each file, one for what the second leaves open, and the warning
				assert.Equal(t, Remark{"poured.csv:4: j3: was poured, but no reading of it is here; read it, or leave it out", true}, v.Remarks[3])
			}
		})
	}
}

func TestImportChips(t *testing.T) {
	b := newBench(t)
	const head = "chip,backing,thickness_mm,WH,L_D65,a_D65,b_D65\n"
	do := func(text string, change func(*ImportChipsRequest)) (ImportedChips, error) {
		r := ImportChipsRequest{Chips: asFile("chips.csv", head+text), ChipGrams: 50, ScaleGrams: 0.01}
		if change != nil {
			change(&r)
		}
		return ImportChips(t.Context(), b, r)
	}
	before, err := Chips(t.Context(), b, "")
	require.NoError(t, err)
	v, err := do("n1,white,3,1,80,0,1\n", func(r *ImportChipsRequest) { r.Preview = true })
	require.NoError(t, err)
	require.Len(t, v.Chips, 1)
	assert.Equal(t, "added", v.Chips[0].Outcome)
	assert.Equal(t, []string{"n1"}, v.Added)
	still, err := Chips(t.Context(), b, testResin)
	require.NoError(t, err)
	assert.Equal(t, before, still, "a preview stores nothing")

	_, err = do("n1,white,3,1,80,0,1\n", nil)
	require.NoError(t, err)
	v, err = do("n1,white,3,1,80,0,1\n", nil)
	require.NoError(t, err)
	assert.Equal(t, []string{"n1"}, v.Unchanged)
	_, err = do("n1,white,3,1.1,80,0,1\nn2,white,3,1,81,0,1\n", nil)
	assert.ErrorContains(t, err, "add ⟦replace⟧ to replace chips whose content changed; nothing was changed")
	assert.Equal(t, Conflict, KindOf(err))
	v, err = do("n1,white,3,1.1,80,0,1\nn2,white,3,1,81,0,1\n", func(r *ImportChipsRequest) { r.Replace = true })
	require.NoError(t, err)
	assert.Equal(t, CardReport{[]string{"n2"}, []string{"n1"}, []string{}}, v.CardReport)
	v, err = do("n3,white,3,1,82,0,1\n", func(r *ImportChipsRequest) { r.ChipGrams, r.ScaleGrams = 0, 0 })
	require.NoError(t, err)
	assert.Contains(t, v.Remarks[len(v.Remarks)-1].Text, "loadings are taken as exact; say ⟦chip-grams⟧ and ⟦scale⟧")

	for sd, says := range map[float64]string{0.09: "", -0.1: "thickness-sd-mm", 1.6: "chip n2: a thickness of 3 mm that misses by 1.6 mm"} {
		_, err = do("n2,white,3,1,81,0,1\n", func(r *ImportChipsRequest) { r.Replace, r.ThicknessSDMM = true, &sd })
		if says != "" {
			assert.ErrorContains(t, err, says)
			continue
		}
		require.NoError(t, err)
	}
	kept, err := b.archive.Chip(t.Context(), testResin, "n2")
	require.NoError(t, err)
	heard, _, err := evidenceOf(t.Context(), b.archive, []archive.Chip{kept})
	require.NoError(t, err)
	assert.EqualValues(t, 0.09, heard[0].ThicknessSD)

	for says, text := range map[string]string{"unknown backing": "n4,grey,3,1,80,0,1\n", "thickness": "n4,white,-3,1,80,0,1\n", "is not a number": "n4,white,3,x,80,0,1\n"} {
		_, err := do("n5,white,3,1,80.3,0,1\n"+text, nil)
		assert.ErrorContains(t, err, says)
	}
	all, err := Chips(t.Context(), b, "")
	require.NoError(t, err)
	assert.Len(t, all.Chips, len(before.Chips)+3, "of a file with a fault nothing is taken in")

	w, err := WithdrawChip(t.Context(), b, WithdrawChipRequest{Chip: "n2", Why: "wrong cup"})
	require.NoError(t, err)
	assert.Equal(t, WithdrawnChip{"changed", testResin, "n2", "wrong cup"}, w)
	shown, err := ShowChip(t.Context(), b, "", "n2")
	require.NoError(t, err)
	assert.Equal(t, "wrong cup", shown.Withdrawn)
	all, err = Chips(t.Context(), b, "")
	require.NoError(t, err)
	assert.Len(t, all.Chips, len(before.Chips)+2)
	_, err = WithdrawChip(t.Context(), b, WithdrawChipRequest{Chip: "n1"})
	assert.ErrorContains(t, err, "⟦why⟧ is missing")
	assert.Equal(t, Invalid, KindOf(err))
	_, err = WithdrawChip(t.Context(), b, WithdrawChipRequest{Chip: "n9", Why: "x"})
	assert.Equal(t, NotFound, KindOf(err))
}

func TestImportPigments(t *testing.T) {
	b := newBench(t)
	list := func() File { return asFile("list.csv", "code,density,stock_g\nWH,2.1,0\nZN,,\n") }
	v, err := ImportPigments(t.Context(), b, ImportPigmentsRequest{File: list(), Preview: true})
	require.NoError(t, err)
	assert.Equal(t, CardReport{[]string{"ZN"}, []string{"WH"}, []string{}}, v.CardReport)
	assert.Equal(t, []string{"changed", "added"}, []string{v.Pigments[0].Outcome, v.Pigments[1].Outcome})
	before, err := Pigments(t.Context(), b)
	require.NoError(t, err)
	require.Len(t, before.Pigments, testPigments)
	v, err = ImportPigments(t.Context(), b, ImportPigmentsRequest{File: list()})
	require.NoError(t, err)
	assert.Empty(t, v.Pigments)
	white, err := ShowPigment(t.Context(), b, "WH")
	require.NoError(t, err)
	assert.Equal(t, "paste WH", white.Name, "what a line leaves out stays")
	assert.Equal(t, figure.Of(2.1), white.Density)
	assert.Equal(t, figure.Of(0), white.StockG, "none left is known")
	_, err = ImportPigments(t.Context(), b, ImportPigmentsRequest{File: asFile("bad.csv", "code,density\nBL,1.1\nWH,99\n")})
	assert.ErrorContains(t, err, "bad.csv:3")
	after, err := Pigments(t.Context(), b)
	require.NoError(t, err)
	assert.Len(t, after.Pigments, testPigments+1)
}

// TestChangedMeanwhile: what was read, and then changed by somebody else, is not
// changed without looking at it again; and it is said who changed it and when.
func TestChangedMeanwhile(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	half, third := 0.5, 0.33
	chips := func() File {
		return asFile("chips.csv", "chip,backing,thickness_mm,WH,L_D65,a_D65,b_D65\nc,white,3,1,80,0,1\n")
	}
	list := func() File { return asFile("list.csv", "code,density\nWH,2.1\n") }
	_, err := ImportChips(ctx, b, ImportChipsRequest{Chips: chips()})
	require.NoError(t, err)
	resin, err := ShowResin(ctx, b, testResin)
	require.NoError(t, err)
	pigment, err := ShowPigment(ctx, b, "WH")
	require.NoError(t, err)
	backing, err := AddBacking(ctx, b, AddBackingRequest{Name: "tile", Reflectance: &half})
	require.NoError(t, err)
	chip, err := ShowChip(ctx, b, "", "c")
	require.NoError(t, err)

	_, err = AddLot(ctx, b, AddLotRequest{Code: "WH", Lot: "K-1"})
	require.NoError(t, err)
	lots, err := Lots(ctx, b, "WH")
	require.NoError(t, err)
	_, err = AddTarget(ctx, b, AddTargetRequest{Name: "lamp", Readings: reading("50,1,1")})
	require.NoError(t, err)
	lamp, err := ShowTarget(ctx, b, "", "lamp")
	require.NoError(t, err)

	verbs := map[string]func(seen string) error{
		"lot K-1 of WH": func(seen string) error {
			_, err := AddLot(ctx, b, AddLotRequest{Code: "WH", Lot: "K-1", Note: "mine", Replace: true, Seen: seen})
			return err
		},
		"target lamp": func(seen string) error {
			_, err := AddTarget(ctx, b, AddTargetRequest{Name: "lamp", Readings: reading("50,1,2"), Replace: true, Seen: seen})
			return err
		},
		"resin CLR": func(seen string) error {
			r := otherResinRequest()
			r.Code, r.Replace, r.Seen = testResin, true, seen
			_, err := AddResin(ctx, b, r)
			return err
		},
		"pigment WH": func(seen string) error {
			_, err := ImportPigments(ctx, b, ImportPigmentsRequest{File: list(), Seen: map[string]string{"WH": seen}})
			return err
		},
		"backing tile": func(seen string) error {
			_, err := AddBacking(ctx, b, AddBackingRequest{Name: "tile", Reflectance: &third, Replace: true, Seen: seen})
			return err
		},
		"chip c": func(seen string) error {
			_, err := WithdrawChip(ctx, b, WithdrawChipRequest{Chip: "c", Why: "wrong cup", Seen: seen})
			return err
		},
		"chip c again": func(seen string) error {
			_, err := ImportChips(ctx, b, ImportChipsRequest{Chips: chips(), Replace: true, Seen: map[string]string{"c": seen}})
			return err
		},
	}
	seen := map[string]string{"lot K-1 of WH": lots.Lots[0].Ref, "target lamp": lamp.Ref, "resin CLR": resin.Ref, "pigment WH": pigment.Ref, "backing tile": backing.Ref, "chip c": chip.Ref, "chip c again": chip.Ref}
	bo, err := Open(ctx, b.Path(), Options{Now: testClock(31), Who: "bo"})
	require.NoError(t, err)
	defer bo.Close()
	require.NoError(t, bo.archive.Together(ctx, func(a *archive.Bench) error {
		r, err := a.Resin(ctx, testResin)
		require.NoError(t, err)
		r.Note = "bo's"
		_, err = a.PutResin(ctx, r, archive.Replace)
		require.NoError(t, err)
		_, err = a.ImportPigments(ctx, []archive.Pigment{{Code: "WH", Note: "bo's"}})
		require.NoError(t, err)
		_, err = a.PutBacking(ctx, archive.Backing{Name: "tile", Constant: &half, Source: "bo's"}, archive.Replace)
		require.NoError(t, err)
		lot, err := lotNamed(ctx, a, "WH", "K-1")
		require.NoError(t, err)
		lot.Note = "bo's"
		_, err = a.PutLot(ctx, lot, archive.Replace)
		require.NoError(t, err)
		target, err := a.Target(ctx, "", "lamp")
		require.NoError(t, err)
		target.Note = "bo's"
		_, err = a.PutTarget(ctx, target, archive.Replace)
		require.NoError(t, err)
		c, err := a.Chip(ctx, testResin, "c")
		require.NoError(t, err)
		c.Note = "bo's"
		_, err = a.ImportChips(ctx, testResin, []archive.Chip{c}, archive.Replace)
		return err
	}))
	before, err := b.archive.Checksum(ctx)
	require.NoError(t, err)
	for name, do := range verbs {
		err := do(seen[name])
		require.ErrorContains(t, err, strings.TrimSuffix(name, " again")+" was changed by bo on 2026-03-31 09:00:01 UTC", name)
		assert.Equal(t, Conflict, KindOf(err), name)
		assert.NotContains(t, err.Error(), "\n")
	}
	after, err := b.archive.Checksum(ctx)
	require.NoError(t, err)
	assert.Equal(t, before, after)
	resin, err = ShowResin(ctx, b, testResin)
	require.NoError(t, err)
	require.NoError(t, verbs["resin CLR"](resin.Ref), "read again")
	require.NoError(t, verbs["pigment WH"](""), "or not compared")
	_, err = AddBacking(ctx, b, AddBackingRequest{Name: "gone", Reflectance: &half, Seen: "x"})
	assert.Equal(t, NotFound, KindOf(err))
}

func TestLabels(t *testing.T) {
	b := newBench(t)
	ctx := t.Context()
	chips, err := Chips(ctx, b, "")
	require.NoError(t, err)
	name := chips.Chips[3].Name
	_, err = b.archive.PutLot(ctx, archive.Lot{Item: archive.OfPigment, Code: "WH", Name: "K-1"}, archive.Refuse)
	require.NoError(t, err)
	_, err = b.archive.OpenLot(ctx, pigmentLot("WH", "K-1"))
	require.NoError(t, err)
	heading := papers.Heading{Shop: []string{"Quay"}}
	for what, c := range map[string]struct {
		r     LabelsRequest
		jars  bool
		count int
		says  string
	}{
		"all chips":   {LabelsRequest{Resin: testResin, Heading: heading}, false, len(chips.Chips), ""},
		"one chip":    {LabelsRequest{Resin: testResin, Only: []string{name}, Skip: 3, Cut: true}, false, 1, ""},
		"no chip":     {LabelsRequest{Resin: testResin, Only: []string{"nix"}}, false, 0, `no chip "nix" of CLR`},
		"no resin":    {LabelsRequest{Resin: "NIX"}, false, 0, "unknown resin"},
		"all jars":    {LabelsRequest{}, true, testPigments, ""},
		"one jar":     {LabelsRequest{Only: []string{"WH"}}, true, 1, ""},
		"no jar":      {LabelsRequest{Only: []string{"ZZ"}}, true, 0, "unknown pigment"},
		"before none": {LabelsRequest{Skip: -1}, true, 0, "is out of range; give 0 or more"},
	} {
		do := ChipLabels
		if c.jars {
			do = JarLabels
		}
		v, err := do(ctx, b, c.r)
		if c.says != "" {
			assert.ErrorContains(t, err, c.says, what)
			continue
		}
		require.NoError(t, err, what)
		assert.Len(t, v.Labels, c.count, what)
		assert.Equal(t, c.r.Skip, v.Skip, what)
		assert.Equal(t, c.r.Heading, v.Heading, what)
	}
	one, err := ChipLabels(ctx, b, LabelsRequest{Resin: testResin, Only: []string{name}})
	require.NoError(t, err)
	assert.Equal(t, name, one.Labels[0].Code)
	assert.Equal(t, papers.RefTo(papers.ChipRef, testResin, name), one.Labels[0].Find)
	assert.NotNil(t, one.Labels[0].Lab)
	jar, err := JarLabels(ctx, b, LabelsRequest{Only: []string{"WH"}})
	require.NoError(t, err)
	assert.Contains(t, strings.Join(jar.Labels[0].Lines, " "), "K-1")
}

// TestBundles: a bench carried to a new one is the same bench; where a name
// stands for two things nothing is taken in until it is said which counts.
func TestBundles(t *testing.T) {
	ctx := t.Context()
	b := newBench(t)
	addTarget(t, b, "lamp", map[string]float64{"WH": 1})
	var bundle bytes.Buffer
	v, err := Export(ctx, b, &bundle, ExportRequest{})
	require.NoError(t, err)
	assert.Equal(t, "the whole bench", v.Holds)
	file := filepath.Join(t.TempDir(), "new.db")
	made, err := Init(ctx, file, Options{Now: testClock(31), Who: "bo"})
	require.NoError(t, err)
	assert.Len(t, made.Backings, 2)
	_, err = Init(ctx, file, Options{})
	assert.Equal(t, Conflict, KindOf(err))
	other := openBench(t, file)
	half := 0.5
	_, err = AddBacking(ctx, other, AddBackingRequest{Name: "white", Reflectance: &half})
	require.NoError(t, err)

	take := func(r ImportRequest) (Imported, error) {
		r.Name, r.Data = "b.masstone", bytes.NewReader(bundle.Bytes())
		return Import(ctx, other, r)
	}
	_, err = take(ImportRequest{KeepMine: true, TakeTheirs: true})
	assert.Equal(t, Invalid, KindOf(err))
	_, err = take(ImportRequest{})
	assert.Equal(t, Conflict, KindOf(err))
	assert.ErrorContains(t, err, "b.masstone: bundle: ")
	assert.ErrorContains(t, err, "⟦keep-mine⟧ or ⟦take-theirs⟧ says so")
	pigments, err := Pigments(ctx, other)
	require.NoError(t, err)
	assert.Empty(t, pigments.Pigments)
	got, err := take(ImportRequest{TakeTheirs: true})
	require.NoError(t, err)
	assert.Equal(t, []string{`backing "black"`, `backing "white"`}, got.Changed)
	assert.Equal(t, v.Records, got.Records+got.Unchanged)
	got, err = take(ImportRequest{})
	require.NoError(t, err)
	assert.Zero(t, got.Records)
	assert.Equal(t, []string{}, got.Numbered)

	bundle.Reset()
	v, err = Export(ctx, b, &bundle, ExportRequest{Client: "Tern"})
	require.NoError(t, err)
	assert.Equal(t, "client Tern", v.Holds)
	_, err = Export(ctx, b, &bundle, ExportRequest{Client: "Tern", Recipe: "R1"})
	assert.Equal(t, Invalid, KindOf(err))
	_, err = Export(ctx, b, &bundle, ExportRequest{Recipe: "R9"})
	assert.Equal(t, NotFound, KindOf(err))
}

func TestUpkeep(t *testing.T) {
	ctx := t.Context()
	b := newBench(t)
	copied := filepath.Join(t.TempDir(), "copy.db")
	v, err := Backup(ctx, b, copied)
	require.NoError(t, err)
	assert.Equal(t, Copied{b.Path(), copied, v.Head}, v)
	_, err = Backup(ctx, b, copied)
	assert.Equal(t, Conflict, KindOf(err))
	other := openBench(t, copied)
	checked, err := Verify(ctx, other, VerifyRequest{})
	require.NoError(t, err)
	assert.Positive(t, checked.Records)
	assert.NoError(t, checked.Err())
	assert.NotNil(t, checked.Problems)
	checked.Problems = make([]archive.Problem, 2)
	assert.ErrorContains(t, checked.Err(), "2 problems found; keep the file")

	half := 0.5
	_, err = AddBacking(ctx, b, AddBackingRequest{Name: "tile", Reflectance: &half})
	require.NoError(t, err)
	for name, c := range map[string]struct {
		r    LogRequest
		last string
		none bool
	}{
		"all":           {LogRequest{}, "tile", false},
		"the newest":    {LogRequest{Limit: 1}, "tile", false},
		"about":         {LogRequest{About: "backing added"}, "tile", false},
		"somebody else": {LogRequest{Who: "bo"}, "", true},
	} {
		v, err := Log(ctx, b, c.r)
		require.NoError(t, err, name)
		if c.none {
			assert.Equal(t, LogList{[]archive.LogLine{}}, v, name)
			continue
		}
		if c.r.Limit > 0 {
			assert.Len(t, v.Log, c.r.Limit, name)
		}
		assert.Equal(t, c.last, v.Log[len(v.Log)-1].Subject, name)
	}
	_, err = Log(ctx, b, LogRequest{Limit: -1})
	assert.Equal(t, Invalid, KindOf(err))
}
