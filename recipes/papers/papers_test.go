package papers_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/color"
	"masstone/color/readings"
	"masstone/recipes/batch"
	"masstone/recipes/papers"
)

func table(t require.TestingT, data []byte) (rows []map[string]string) {
	all, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	require.NoError(t, err)
	for _, cells := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = cells[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func grams(t require.TestingT, s string) batch.Mass {
	var m batch.Mass
	require.NoError(t, json.Unmarshal([]byte(s), &m))
	return m
}

// TestSheetIsTheBatch: every figure on a sheet is the batch's own, whatever the
// recipe, the amount, the scale and the cups.
func TestSheetIsTheBatch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		recipe := map[string]batch.PHR{}
		for i := range rapid.IntRange(1, 5).Draw(t, "pigments") {
			recipe[fmt.Sprintf("P%d", i)] = batch.PHR(math.Exp(rapid.Float64Range(math.Log(0.002), 0).Draw(t, "ln phr")))
		}
		r := request(recipe, batch.Order{Total: batch.Grams(rapid.Float64Range(40, 900).Draw(t, "grams"))})
		r.Outcome, r.Tolerance = nil, 0
		r.Scale.Step = batch.Grams(rapid.SampledFrom([]float64{0.01, 0.02, 0.05, 0.1}).Draw(t, "step"))
		r.Handling.MaxCup = batch.Grams(rapid.SampledFrom([]float64{0, 120, 300}).Draw(t, "largest cup"))
		if rapid.Bool().Draw(t, "pigments in A") {
			r.Resin.PigmentSide = batch.SideA
		}
		s, err := batch.Plan(r)
		if err != nil {
			t.Skip(err) // too small for its pigments
		}
		p := papers.BatchSheet{Heading: head, Batch: "B1", Recipe: "R1", Resin: "CLR", Sheet: s}

		// JSON holds the sheet whole.
		var out bytes.Buffer
		require.NoError(t, papers.Write(&out, p, papers.JSON, papers.Options{}))
		var back batch.Sheet
		require.NoError(t, json.Unmarshal(out.Bytes(), &back))
		want, err := json.Marshal(s)
		require.NoError(t, err)
		got, err := json.Marshal(back)
		require.NoError(t, err)
		require.JSONEq(t, string(want), string(got))

		// CSV: what is weighed adds up to the batch, line by line.
		out.Reset()
		require.NoError(t, papers.Write(&out, p, papers.CSV, papers.Options{}))
		var lines, cups []map[string]string
		for _, row := range table(t, out.Bytes()) {
			switch {
			case row["part"] == "weigh":
				lines = append(lines, row)
			case strings.HasPrefix(row["part"], "cup"):
				cups = append(cups, row)
			}
		}
		var sum batch.Mass
		for i, row := range lines {
			require.Equal(t, s.Lines[i].Item, row["item"])
			require.Equal(t, s.Lines[i].Grams, grams(t, row["grams"]))
			sum = sum.Plus(grams(t, row["grams"]))
			require.Equal(t, sum, grams(t, row["scale_shows_grams"]))
		}
		if len(s.Cups) == 1 {
			require.Len(t, lines, len(s.Lines))
			require.Equal(t, s.Total, sum)
			require.Empty(t, cups)
		} else {
			// the pot is what leaves it, and the cups are the batch
			require.Len(t, lines, len(s.Lines)-1)
			var pot, all batch.Mass
			for _, row := range cups {
				if row["item"] == "pot" {
					pot = pot.Plus(grams(t, row["grams"]))
				}
				all = all.Plus(grams(t, row["grams"]))
			}
			require.Equal(t, sum, pot)
			require.Equal(t, s.Total, all)
		}

		// Text shows them.
		out.Reset()
		require.NoError(t, papers.Write(&out, p, papers.Text, papers.Options{}))
		for _, l := range s.Lines {
			require.Regexp(t, `(?m)\b`+l.Grams.At(s.Step)+`\b`, out.String())
			if !l.Clock || len(s.Cups) == 1 {
				require.Regexp(t, `(?m)\b`+l.Cumulative.At(s.Step)+`\b`, out.String())
			}
		}
		for _, c := range s.Cups[:min(len(s.Cups), 20)] {
			if len(s.Cups) > 1 {
				require.Contains(t, out.String(), c.Pigmented.At(s.Step))
				require.Contains(t, out.String(), c.Other.At(s.Step))
			}
		}
	})
}

// TestPagesShowTheBatch: what is to be weighed stands on the printed pages.
func TestPagesShowTheBatch(t *testing.T) {
	for _, b := range []papers.BatchSheet{housing(t), crowded(t)} {
		r, on := openPDF(t, write(t, b, papers.PDF, papers.Options{})), map[string]bool{}
		for n := 1; n <= r.NumPage(); n++ {
			for _, x := range runs(r.Page(n)) {
				on[x.text] = true
			}
		}
		page := string(write(t, b, papers.HTML, papers.Options{}))
		for _, l := range b.Lines {
			require.True(t, on[l.Grams.At(b.Step)], "%s %v", l.Item, l.Grams)
			require.Contains(t, page, `<td class="right strong">`+l.Grams.At(b.Step)+"</td>")
			if !l.Clock || len(b.Cups) == 1 {
				require.True(t, on[l.Cumulative.At(b.Step)], "%s %v", l.Item, l.Cumulative)
				require.Contains(t, page, `<td class="right">`+l.Cumulative.At(b.Step)+"</td>")
			}
		}
		for _, c := range b.Cups[:len(b.Cups)*min(len(b.Cups)-1, 1)] {
			require.True(t, on[c.Pigmented.At(b.Step)] && on[c.Other.At(b.Step)], "cup %d", c.Number)
		}
	}
}

// TestJSONKeys: these keys are read by programs of others.
func TestJSONKeys(t *testing.T) {
	for name, keys := range map[string]string{
		"batch":           "made shop batch recipe calibration resin target client order names lots target_lab predicted lines total_grams ordered_grams mixed_resin_grams mix pigment_side scale_grams loadings_phr weighed_phr mixed_density mixed_ml expected predilutions shot clock cups notes cautions smallest find",
		"card":            "made shop recipe name resin calibration target client loadings usual_grams step_grams sides thickness_mm over colors tolerance chance opacity hides_mm cost_per_kg currency resin_lots approved_by approved_on approved_as head batches notes differences total_phr find",
		"certificate":     "made shop certificate client target recipe batch pour resin calibration lots formula tolerance every_light readings measurement instrument part_readings target_readings scatter_dE00 thickness_mm over target_read_on poured_on read_on approved_on approved_by head differences within find",
		"certificate_run": "made shop certificate run client target approval recipe resin lots moulds under formula agreed parts cast cups cups_read parts_read passing_as_read decided_within decided_outside cups_within share_low share_high risk reading_u guard_band mean_dE00 sd_dE00 worst_dE00 worst_part mean_shift drift poured_on read head notes",
		"chips":           "made shop plan resin mix pigment_side chip_grams scale_grams pot_life_minutes names lights before_dE00 after_dE00 chips weigh",
		"labels":          "made shop labels skip cut",
	} {
		for _, s := range samples(t) {
			if s.name != name {
				continue
			}
			var got map[string]json.RawMessage
			require.NoError(t, json.Unmarshal(write(t, s.paper, papers.JSON, papers.Options{}), &got))
			for _, k := range strings.Fields(keys) {
				require.Contains(t, got, k, name)
				delete(got, k)
			}
			require.Empty(t, got, name)
		}
	}
}

// TestChipPlanIsImported: with its readings filled in, a plan's CSV is a chips
// file, and says what was planned.
func TestChipPlanIsImported(t *testing.T) {
	for _, spectral := range []bool{false, true} {
		p := plan()
		p.Spectrum = spectral
		rows := strings.Split(strings.TrimSpace(string(write(t, p, papers.CSV, papers.Options{}))), "\n")
		cells := 6
		if spectral {
			cells += color.Bands
		}
		for i := range rows[1:] {
			row := strings.TrimSuffix(rows[i+1], strings.Repeat(",", cells))
			require.NotEqual(t, rows[i+1], row, "no room for readings")
			rows[i+1] = row + ",51.84,0,0,51.84,0,0" // of a flat 0.2: 116 * 0.2^(1/3) - 16
			if spectral {
				rows[i+1] += strings.Repeat(",0.2", color.Bands)
			}
		}
		got, err := readings.Chips(strings.NewReader(strings.Join(rows, "\n")), readings.Options{File: "chips.csv", KnownPigments: []string{"BL", "RD", "WH"},
			Measurement: color.Measurement{Geometry: color.Sphere, Specular: color.SpecularIncluded}})
		require.NoError(t, err)
		require.Len(t, got.Rows, len(p.Chips))
		for i, c := range p.Chips {
			r := got.Rows[i]
			require.Equal(t, c.Name, r.Name)
			require.Equal(t, c.Backing, r.Backing)
			require.InDelta(t, c.ThicknessMM, r.ThicknessMM, 1e-9)
			require.Len(t, r.Loadings, len(c.Loadings))
			for code, phr := range c.Loadings {
				require.InDelta(t, float64(phr), float64(r.Loadings[code]), 1e-9, code)
			}
			require.Len(t, r.Labs, 2)
			require.Equal(t, p.Lights[1], r.Labs[1].Under)
			require.Equal(t, spectral, r.Spectrum != nil)
		}
	}
}

// By hand: 50 g at 100:90 is 26.32 g of A (50 * 100/190 = 26.3158) and 23.68 g
// of B, with 0.10 and 0.50 g of paste between them.
func TestChipWeigh(t *testing.T) {
	p := plan()
	var got []string
	for _, l := range p.Weigh(p.Chips[4]) {
		got = append(got, l.Item+" "+l.Grams.At(p.Step)+" "+l.Cumulative.At(p.Step))
	}
	require.Equal(t, []string{"B 23.68 23.68", "RD 0.10 23.78", "WH 0.50 24.28", "A 26.32 50.60"}, got)
	for _, c := range p.Chips {
		lines := p.Weigh(c)
		require.Equal(t, p.ChipGrams, lines[0].Grams.Plus(lines[len(lines)-1].Grams))
	}
}

// By hand: Lab differences of (-0.35, -0.36, +0.33); the formulas are tested
// where they are.
func TestCertificateJudges(t *testing.T) {
	c := certificate()
	j, err := c.Judge()
	require.NoError(t, err)
	require.True(t, j.Within)
	require.InDelta(t, -0.35, j.Differences[0].DL, 1e-9)
	require.InDelta(t, -0.36, j.Differences[0].DA, 1e-9)
	require.InDelta(t, 0.33, j.Differences[0].DB, 1e-9)
	require.InDelta(t, color.Delta00(c.Lights[0].Target.Values(), c.Lights[0].Part.Values()), j.Differences[0].DE, 1e-12)
	require.Zero(t, j.Metamerism[0])

	main := j.Differences[0].DE
	for _, x := range []struct {
		tolerance float64
		every     bool
		within    bool
	}{
		{main, false, true}, // at most is at most
		{main - 1e-9, false, false},
		{main, true, false}, // worse under a lamp
		{j.Differences[2].DE, true, true},
	} {
		c.Tolerance, c.EveryLight = x.tolerance, x.every
		j, err := c.Judge()
		require.NoError(t, err)
		require.Equal(t, x.within, j.Within, "%+v", x)
		text := string(write(t, c, papers.Text, papers.Options{}))
		require.Equal(t, x.within, strings.Contains(text, "\nWITHIN TOLERANCE\n"))
		require.Equal(t, !x.within, strings.Contains(text, "\nNOT WITHIN TOLERANCE\n"))
	}
	// a miss that rounds to the limit is shown with the digits it takes
	c.Tolerance, c.EveryLight = main-1e-4, false
	require.Regexp(t, `by dE00 (0\.\d{3,}); agreed is at most`, string(write(t, c, papers.Text, papers.Options{})))

	c.Lights[1].Part.Under = color.Under(color.C, color.TwoDegree)
	_, err = c.Judge()
	require.ErrorIs(t, err, color.ErrConditions)
	require.ErrorIs(t, papers.Write(io.Discard, c, papers.PDF, papers.Options{}), color.ErrConditions)
}

func TestCardColors(t *testing.T) {
	under := color.D65Ten()
	got := papers.CardColors([]calibrate.PredictedColor{
		{Lab: lab(50, 1, 2, color.D65), Half95: [3]float64{1, 2, 3}, Landing: calibrate.Landing{Expected: 0.4, Upper95: 0.9}},
		{Lab: lab(51, 1, 2, color.A), Landing: calibrate.Landing{Expected: 0.5}},
	}, []color.Lab{lab(50.5, 1, 2, color.D65)})
	require.Equal(t, under, got[0].Target.Under)
	require.Equal(t, 0.9, got[0].Upper95)
	require.Equal(t, [3]float64{1, 2, 3}, *got[0].Half95)
	require.Nil(t, got[1].Target)
	require.Zero(t, got[1].Expected, "expected of what? there is no target")
}

// TestRefuses: what is missing is named, on one line, before a byte is written.
func TestRefuses(t *testing.T) {
	sheet, red := housing(t), lab(math.NaN(), 0, 0, color.D65)
	for want, p := range map[string]papers.Paper{
		"give the date":              papers.BatchSheet{},
		"plan the batch first":       papers.BatchSheet{Heading: head},
		"target: NaN is no number":   func() papers.Paper { s := sheet; s.TargetLab = &red; return s }(),
		"give the recipe":            papers.RecipeCard{Heading: head},
		"loading of WH: +Inf":        papers.RecipeCard{Heading: head, Recipe: "R1", Loadings: []papers.Loading{{Pigment: "WH", PHR: calibrate.PHR(math.Inf(1))}}},
		"colour under D65/10":        func() papers.Paper { c := card(); c.Colors[0].Lab = red; return c }(),
		"for no target":              papers.Certificate{Heading: head},
		"read the part first":        papers.Certificate{Heading: head, Target: "x"},
		"tolerance NaN":              func() papers.Paper { c := certificate(); c.Tolerance = math.NaN(); return c }(),
		"tolerance 0":                func() papers.Paper { c := certificate(); c.Tolerance = 0; return c }(),
		"reading under D65/10":       func() papers.Paper { c := certificate(); c.Lights[0].Part = red; return c }(),
		"chip plan without chips":    papers.ChipPlan{Heading: head},
		"give both":                  func() papers.Paper { p := plan(); p.Step = batch.Mass{}; return p }(),
		"mix ratio 0:0":              func() papers.Paper { p := plan(); p.Mix = batch.Ratio{}; return p }(),
		`pigment side ""`:            func() papers.Paper { p := plan(); p.PigmentSide = ""; return p }(),
		"a chip has no name":         func() papers.Paper { p := plan(); p.Chips[0].Name = ""; return p }(),
		"has a loading but no grams": func() papers.Paper { p := plan(); p.Chips[1].Grams = nil; return p }(),
		"no labels":                  papers.Labels{Heading: head},
		"label 1 has no code":        papers.Labels{Heading: head, Labels: []papers.Label{{}}},
		"shorten the name":           papers.Labels{Heading: head, Labels: []papers.Label{{Code: "x", Find: papers.RefTo("jar", strings.Repeat("x", 201))}}},
		"skip -1 labels":             func() papers.Paper { l := many(); l.Skip = -1; return l }(),
		"make them smaller or fewer": func() papers.Paper {
			l := many()
			l.Grid = &papers.Grid{Columns: 4, Rows: 8, Width: 70, Height: 37}
			return l
		}(),
		"give at least 25 x 10": func() papers.Paper {
			l := many()
			l.Grid = &papers.Grid{Columns: 4, Rows: 8, Width: 20, Height: 37}
			return l
		}(),
		"give 1 to 20 columns":   func() papers.Paper { l := many(); l.Grid = &papers.Grid{}; return l }(),
		"negative margin or gap": func() papers.Paper { g := papers.UsualGrid(papers.A4); g.Left = -1; l := many(); l.Grid = &g; return l }(),
	} {
		var out bytes.Buffer
		err := papers.Write(&out, p, papers.PDF, papers.Options{})
		require.ErrorContains(t, err, want)
		require.NotContains(t, err.Error(), "\n")
		require.Zero(t, out.Len(), want)
	}
	for want, o := range map[string]papers.Options{"unknown size": {Size: "A3"}, "give 40 or more": {Width: 12}} {
		require.ErrorContains(t, papers.Write(io.Discard, sheet, papers.Text, o), want)
	}
	require.ErrorContains(t, papers.Write(io.Discard, sheet, "docx", papers.Options{}), "unknown format")
}

func TestUsualGrids(t *testing.T) {
	for _, size := range []papers.Size{papers.A4, papers.Letter} {
		g := papers.UsualGrid(size)
		l := many()
		l.Grid = &g
		require.Equal(t, write(t, many(), papers.PDF, papers.Options{Size: size}), write(t, l, papers.PDF, papers.Options{Size: size}))
	}
}

func TestFormatsAndSizes(t *testing.T) {
	for file, want := range map[string]papers.Format{"sheet.pdf": papers.PDF, "a/b.HTML": papers.HTML, "x.htm": papers.HTML, "x.csv": papers.CSV, "x.json": papers.JSON, "x.y.txt": papers.Text} {
		got, err := papers.FormatOf(file)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
	for _, file := range []string{"sheet", "sheet.docx", ".", "pdf"} {
		_, err := papers.FormatOf(file)
		require.ErrorContains(t, err, "use .pdf")
	}
	for text, want := range map[string]papers.Size{"a4": papers.A4, " Letter ": papers.Letter} {
		got, err := papers.ParseSize(text)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
	_, err := papers.ParseSize("a3")
	require.ErrorContains(t, err, "use a4 or letter")
}

// TestTogether writes papers from several goroutines, as a page server would.
func TestTogether(t *testing.T) {
	want, done := write(t, housing(t), papers.PDF, papers.Options{}), make(chan []byte)
	sheet := housing(t)
	for range 4 {
		go func() {
			var out bytes.Buffer
			_ = papers.Write(&out, sheet, papers.PDF, papers.Options{})
			done <- out.Bytes()
		}()
	}
	for range 4 {
		require.True(t, bytes.Equal(want, <-done))
	}
}

func BenchmarkPDF(b *testing.B) {
	sheet := housing(b)
	b.ReportAllocs()
	for b.Loop() {
		if err := papers.Write(io.Discard, sheet, papers.PDF, papers.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkHTML(b *testing.B) {
	sheet := housing(b)
	b.ReportAllocs()
	for b.Loop() {
		if err := papers.Write(io.Discard, sheet, papers.HTML, papers.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// TestOneLine: of several faults the first is told.
func TestOneLine(t *testing.T) {
	c := certificate()
	c.Lights[0].Part.L, c.Lights[0].Target.L = math.NaN(), math.Inf(1)
	err := papers.Write(io.Discard, c, papers.Text, papers.Options{})
	require.ErrorContains(t, err, "+Inf is no number")
	require.NotContains(t, err.Error(), "\n")
}

// TestFitReportWords: one chip is told of as one, and what the bars count is said.
func TestFitReportWords(t *testing.T) {
	says := func(change func(*papers.FitReport)) string {
		r := fitted(t)
		change(&r)
		var out bytes.Buffer
		require.NoError(t, papers.Write(&out, r, papers.Text, papers.Options{}))
		return strings.Join(strings.Fields(out.String()), " ")
	}
	for text, change := range map[string]func(*papers.FitReport){
		"more chips of their pigments tell how good the fit is": func(r *papers.FitReport) { r.Fit.LeaveOut.Chips = 0 },
		"1 chip is off by dE00 0.42: more chips": func(r *papers.FitReport) {
			r.Fit.LeaveOut.Chips = 1
		},
		"Nothing shows that castings miss the law of mixing.": func(r *papers.FitReport) { r.Crooked = "" },
		"0.08 of it since castings may miss the law of mixing: more chips tell": func(r *papers.FitReport) {
			r.Crooked, r.Fit.ModelError.Shop = "", 0.08
		},
		"0.08 of it since castings may keep the law of mixing: more chips tell": func(r *papers.FitReport) { r.Fit.ModelError.Shop = 0.08 },
	} {
		require.Contains(t, says(change), text)
	}
}
