package workbench

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"masstone/calibrate"
	"masstone/recipes"
	"masstone/recipes/archive"
	"masstone/recipes/batch"
	"masstone/recipes/papers"
)

// A ledger is the book these tests keep by themselves: what left the bottles, of
// pastes and of both sides, against what stands in parts, pails and jars.
type ledger struct {
	bench   *Bench
	resin   archive.Resin
	bottles map[string]float64 // g taken, by item
	pours   []string
	added   map[string]float64 // g that went into pots of pours, by item
	lines   int                // each is kept to the milligram
}

func (l *ledger) take(item string, grams float64) {
	l.bottles[item] += grams
	l.lines++
}

// pour books a batch and its pour: what its sheet had stirred, and each line that is
// no pre-dilution.
func (l *ledger) pour(t testing.TB, r require.TestingT, sheet batch.Sheet, p Pour) {
	stirred, diluted := map[string]bool{}, map[string]bool{}
	for _, k := range p.Jars {
		stirred[k.Pigment] = k.Stirred
	}
	for _, d := range sheet.Predilutions {
		diluted[d.Item] = true
		if stirred[d.Pigment] {
			l.take(d.Pigment, d.Paste.Grams())
			l.take(string(d.Side), d.Resin.Grams())
		}
	}
	shown, err := ShowPour(t.Context(), l.bench, p.Pour)
	require.NoError(r, err)
	for _, a := range shown.Lines {
		if !diluted[a.Item] {
			l.take(a.Item, float64(a.Grams))
		}
	}
	l.pours = append(l.pours, p.Pour)
}

// balances compares the book with what the bench says stands where.
func (l *ledger) balances(t testing.TB, r require.TestingT) {
	stands := maps.Clone(l.added)
	for _, id := range l.pours {
		c, err := castNamed(t.Context(), l.bench.archive, id)
		require.NoError(r, err)
		stands[l.resin.PigmentSide] += c.contents.Side
		stands[otherOf(l.resin)] += c.contents.Other
		for code, g := range c.contents.Paste {
			stands[code] += g
		}
	}
	all, err := l.bench.archive.Stocks(t.Context())
	require.NoError(r, err)
	for _, card := range all {
		if card.Resin != l.resin.Code {
			continue
		}
		s, err := ShowStock(t.Context(), l.bench, card.Name)
		require.NoError(r, err)
		sum := 0.0
		for _, a := range s.Contents {
			sum += float64(a.Grams)
			stands[a.Item] += float64(a.Grams)
		}
		require.InDelta(r, float64(s.Grams), sum, 0.001, "what is in %s is what it weighs", s.Stock)
	}
	for item := range stands {
		require.InDelta(r, l.bottles[item], stands[item], 0.0005*float64(l.lines), "%s: what left the bottle stands somewhere", item)
	}
	for item := range l.bottles {
		require.Contains(r, stands, item)
	}
}

// onPaper is what a sheet says to weigh, read off the paper: of the pot or the one cup
// line by line, and of each of several cups.
func onPaper(r require.TestingT, p papers.BatchSheet) (lines batch.Poured, cups []batch.Poured) {
	var out bytes.Buffer
	require.NoError(r, papers.Write(&out, p, papers.CSV, papers.Options{}))
	rows, err := csv.NewReader(&out).ReadAll()
	require.NoError(r, err)
	lines = batch.Poured{}
	part, item, grams := slices.Index(rows[0], "part"), slices.Index(rows[0], "item"), slices.Index(rows[0], "grams")
	for _, row := range rows[1:] {
		g, err := strconv.ParseFloat(row[grams], 64)
		require.NoError(r, err)
		switch {
		case row[part] == "weigh":
			lines[row[item]] = batch.Grams(g)
		case row[item] != "pot" && strings.HasPrefix(row[part], "cup"):
			cups = append(cups, batch.Poured{row[item]: batch.Grams(g)})
		}
	}
	return lines, cups
}

// byPigment names the lines of a sheet by their pigments, as people do.
func byPigment(s batch.Sheet, weighed batch.Poured) batch.Poured {
	out := batch.Poured{}
	for _, l := range s.Lines {
		if g, ok := weighed[l.Item]; ok {
			out[cmp.Or(l.Pigment, l.Item)] = g
		}
	}
	return out
}

// TestEveryGramStandsSomewhere: a pre-dilution is stirred, kept, taken from by a
// sheet, by a pot for several cups and by a pail, drawn for parts, corrected in pot and
// pail and counted over again, and no gram of a paste or a side is lost or made,
// whatever the recipe, the amounts, the scale, the mix and the side that takes the
// pigments, and whether the lines are named at all, by what stands on the sheet or by
// their pigments. What is in a part is the recipe up to the steps of the scale.
func TestEveryGramStandsSomewhere(t *testing.T) {
	t.Parallel()
	if racing {
		t.Skip("counts grams, one batch after the other")
	}
	b, run, _ := startedRun(t, 1_000_000)
	trial, taken, tinted, shared, pots := 0, 0, 0, 0, 0
	rapid.Check(t, func(r *rapid.T) {
		trial++
		number := func(name string, least, most float64) float64 {
			return math.Exp(rapid.Float64Range(math.Log(least), math.Log(most)).Draw(r, name))
		}
		hundredths := func(g float64) float64 { return math.Round(100*g) / 100 }
		resin := archive.Resin{Code: fmt.Sprintf("X%d", trial), MixA: hundredths(number("parts of A", 20, 200)), MixB: hundredths(number("parts of B", 20, 200)),
			DensityA: 1.05, DensityB: 1, PigmentSide: rapid.SampledFrom([]string{"A", "B"}).Draw(r, "pigment side")}
		_, err := b.archive.PutResin(t.Context(), resin, archive.Refuse)
		require.NoError(r, err)
		loadings := map[string]float64{"WH": number("WH", 0.3, 3), "BK": number("BK", 0.003, 0.1), testShop().Codes[2]: number("third", 0.003, 1)}
		added, err := b.archive.AddRecipes(t.Context(), archive.Recipe{Resin: resin.Code, Client: run.Client, Target: run.Target, Loadings: loadings})
		require.NoError(r, err)
		recipe := added[0]
		step := rapid.SampledFrom([]float64{0.01, 0.02, 0.05, 0.1}).Draw(r, "step of the scale")
		making := hundredGrams()
		making.ScaleGrams = calibrate.Grams(step)
		book := ledger{bench: b, resin: resin, bottles: map[string]float64{}, added: map[string]float64{}}
		// said is what is told of lines that were weighed as printed.
		said := func(sheet batch.Sheet, weighed batch.Poured) batch.Poured {
			switch rapid.SampledFrom([]string{"nothing", "items", "pigments"}).Draw(r, "said") {
			case "items":
				return weighed
			case "pigments":
				return byPigment(sheet, weighed)
			}
			return nil
		}

		dilute := func() {
			ask := DiluteRequest{Pigment: "BK", Resin: resin.Code, PasteGrams: calibrate.Grams(hundredths(number("paste", 0.2, 2))), SideGrams: calibrate.Grams(hundredths(number("side", 3, 90))), Again: true}
			_, err := Dilute(t.Context(), b, ask)
			require.NoError(r, err)
			book.take("BK", float64(ask.PasteGrams))
			book.take(resin.PigmentSide, float64(ask.SideGrams))
		}
		cast := func() {
			making.Grams = calibrate.Grams(hundredths(number("batch", 30, 500)))
			made, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: recipe.ID(), Making: making})
			if err != nil {
				require.ErrorContains(r, err, "too little for this recipe")
				return
			}
			lines, _ := onPaper(r, made.Paper)
			ask, off := AddPourRequest{Batch: made.Batch, Weighed: said(made.Sheet, lines), Again: true}, rapid.Bool().Draw(r, "weighed otherwise")
			if off {
				l := made.Lines[rapid.IntRange(0, len(made.Lines)-1).Draw(r, "line")]
				by := float64(rapid.IntRange(-2, 2).Draw(r, "steps off")) * step
				ask.Weighed = batch.Poured{l.Item: batch.Grams(math.Max(0, l.Grams.Grams()+by))}
			}
			p, err := AddPour(t.Context(), b, ask)
			require.NoError(r, err)
			for _, m := range p.Remarks {
				require.NotContains(r, m.Text, "on record", "a sheet takes no more than there is")
			}
			for _, d := range made.Predilutions {
				if d.Jar != "" {
					taken++
				}
			}
			book.pour(t, r, made.Sheet, p)
			if !off {
				asRecipe(r, made.Sheet, p, loadings, step)
			}
		}
		cups := func() {
			several := making
			several.Grams = calibrate.Grams(hundredths(number("batch for cups", 60, 500)))
			several.MaxCup = several.Grams / calibrate.Grams(rapid.Float64Range(1.3, 4).Draw(r, "cups"))
			made, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: recipe.ID(), Making: several})
			if err != nil {
				require.ErrorContains(r, err, "too little for this recipe")
				return
			}
			lines, each := onPaper(r, made.Paper)
			for n := range made.Cups {
				ask := RunPourRequest{Run: run.Run, AddPourRequest: AddPourRequest{Batch: made.Batch, Weighed: said(made.Sheet, lines), Again: true}, Parts: 1}
				if rapid.Bool().Draw(r, "the cup's own side") {
					ask.Weighed = maps.Clone(ask.Weighed)
					if ask.Weighed == nil {
						ask.Weighed = batch.Poured{}
					}
					maps.Copy(ask.Weighed, each[n])
				}
				v, err := PourRun(t.Context(), b, ask)
				require.NoError(r, err)
				p, err := ShowPour(t.Context(), b, v.Pour)
				require.NoError(r, err)
				asRecipe(r, made.Sheet, p.Pour, loadings, step*float64(len(made.Cups)))
				if n == 0 {
					book.pour(t, r, made.Sheet, Pour{Pour: v.Pour, Jars: v.Jars})
				} else {
					require.Empty(r, v.Jars, "what is in the pot went in with the first cup")
					shared++
				}
			}
		}
		// shots adds to the pot of the last part: from a jar, neat, and of the resin.
		shots := func() {
			if len(book.pours) == 0 {
				return
			}
			last, err := castNamed(t.Context(), b.archive, book.pours[len(book.pours)-1])
			require.NoError(r, err)
			mixed, whole := rapid.Bool().Draw(r, "mixed"), last.contents.Tinted()
			if mixed {
				whole += last.contents.Other
			}
			pot, err := last.contents.Pot(batch.Grams(hundredths(whole*rapid.Float64Range(0.2, 0.9).Draw(r, "left"))), mixed)
			require.NoError(r, err)
			steps := func(what string, most int) calibrate.Grams {
				return calibrate.Grams(step * float64(rapid.IntRange(1, most).Draw(r, what)))
			}
			route := recipes.PotRoute{Add: map[string]calibrate.Grams{"WH": steps("white", 200)}, From: map[string]calibrate.Grams{}, Resin: steps("resin", 500)}
			jars, _, err := jarsFor(t.Context(), b.archive, resin.Code, []string{"BK"})
			require.NoError(r, err)
			for _, k := range jars {
				if dose := steps("dose", 100); !mixed && k.Side == batch.Side(resin.PigmentSide) && float64(dose) < k.Left.Grams() {
					d := k.Dilution(batch.Scale{Step: batch.Grams(step)})
					pot.Diluted = map[string]recipes.Dilution{"BK": d}
					route.From["BK"], route.Add["BK"] = dose, calibrate.Grams(float64(dose)*d.Share)
				}
			}
			corr := correction{CorrectRequest: CorrectRequest{ScaleGrams: calibrate.Grams(step)}, last: last, pot: &pot}
			way := wayOut{recipe: recipe, lines: batch.Additions(route, pot, batch.Side(resin.PigmentSide), mixOf(resin), batch.Grams(step))}
			require.NoError(r, b.archive.Together(t.Context(), func(a *archive.Bench) error {
				way.batch, err = corr.keepAdditions(t.Context(), a, way)
				return err
			}))
			weighed, named := batch.Poured{}, batch.Poured{}
			for _, l := range way.lines {
				g, err := strconv.ParseFloat(l.Grams.At(batch.Grams(step)), 64)
				require.NoError(r, err)
				weighed[l.Item] = batch.Grams(g)
				code, _, _ := strings.Cut(l.Item, " ")
				named[code] = batch.Grams(g)
			}
			for n := range 2 {
				p, err := AddPour(t.Context(), b, AddPourRequest{Batch: way.batch, Again: true, Weighed: rapid.SampledFrom([]batch.Poured{nil, weighed, named}).Draw(r, "said of the pot")})
				require.NoError(r, err)
				c, err := castNamed(t.Context(), b.archive, p.Pour)
				require.NoError(r, err)
				for code, g := range pot.Pigments {
					require.InDelta(r, float64(g+route.Add[code]), c.contents.Paste[code], 0.001, "%s in shot %d of the pot", code, n+1)
				}
				require.Len(r, c.contents.Paste, len(pot.Pigments))
				for _, l := range c.pour.Lines {
					if n > 0 {
						continue // it went in once
					}
					if d := pot.Diluted["BK"]; l.Item == d.Item {
						book.added["BK"] += l.Grams * d.Share
						book.added[resin.PigmentSide] += l.Grams * (1 - d.Share)
						pots++
						continue
					}
					book.take(l.Item, l.Grams)
					book.added[l.Item] += l.Grams
				}
			}
		}
		tint := func() {
			ask := TintStockRequest{Stock: "pail " + resin.Code, Recipe: recipe.ID(), Grams: calibrate.Grams(hundredths(number("pail", 30, 500))), ScaleGrams: calibrate.Grams(step), Again: true}
			v, err := TintStock(t.Context(), b, ask)
			if err != nil {
				require.ErrorContains(r, err, "cannot be weighed")
				return
			}
			jars := map[string]bool{}
			for _, d := range v.Jars {
				jars[d.Pigment+" "+d.Jar] = true
				tinted++
			}
			for _, a := range v.Tinted {
				if !jars[a.Item] {
					book.take(a.Item, float64(a.Grams))
				}
			}
		}
		draw := func() {
			p, err := pailNamed(t.Context(), b.archive, "pail "+resin.Code)
			if err != nil || p.Grams < 20 {
				return // not tinted yet, or drawn down
			}
			shot, err := DrawStock(t.Context(), b, DrawStockRequest{Stock: p.Stock.Name, Grams: calibrate.Grams(hundredths(p.Grams * rapid.Float64Range(0.1, 0.6).Draw(r, "shot"))), ScaleGrams: calibrate.Grams(step), Pour: true, Again: true})
			require.NoError(r, err)
			book.take(otherOf(resin), float64(shot.Other))
			book.pours, book.lines = append(book.pours, shot.Pour), book.lines+len(loadings)+1
		}
		correct := func() {
			p, err := pailNamed(t.Context(), b.archive, "pail "+resin.Code)
			if err != nil {
				return
			}
			g := hundredths(number("more", 0.02, 2))
			_, err = CorrectStock(t.Context(), b, CorrectStockRequest{Stock: p.Stock.Name, Added: []batch.Amount{{Item: "BK", Grams: batch.Grams(g)}, {Item: resin.PigmentSide, Grams: batch.Grams(10 * g)}}, Again: true})
			require.NoError(r, err)
			book.take("BK", g)
			book.take(resin.PigmentSide, 10*g)
		}
		for range rapid.IntRange(3, 7).Draw(r, "moves") {
			rapid.SampledFrom([]func(){cast, cups, shots, dilute, tint, draw, correct}).Draw(r, "move")()
		}
		book.balances(t, r)
	})
	t.Logf("%d doses were taken from jars by sheets, %d by pails, %d by pots; %d cups came out of a pot that was weighed before", taken, tinted, pots, shared)
	for _, n := range []int{taken, tinted, pots, shared} {
		assert.Positive(t, n)
	}
	problems, err := b.archive.Verify(t.Context())
	require.NoError(t, err)
	assert.Empty(t, problems.Problems)
}

// asRecipe: each paste is off by at most half a step of its own line, times the
// share of paste in what was weighed, and by its share of what the steps of all
// the lines and of the two sides take from the resin.
func asRecipe(t require.TestingT, s batch.Sheet, p Pour, loadings map[string]float64, step float64) {
	resin := s.MixedResin.Grams()
	for code, want := range loadings {
		unit := step
		for _, d := range s.Predilutions {
			if d.Pigment == code {
				unit *= d.Paste.Grams() / d.Made.Grams()
			}
		}
		most := 100/resin*unit/2 + want/resin*(float64(len(s.Lines))*step/2+2*step) + 1e-6
		require.InDelta(t, want, float64(p.Loadings[code]), most, "%s of recipe %s", code, p.Recipe)
	}
}

// TestCorrectedFromAJar: a part whose black came out of a jar reads off; the pot is
// the share of what was weighed, and the part cast from it once more holds the pot
// and what was added, gram by gram.
func TestCorrectedFromAJar(t *testing.T) {
	b := newBench(t)
	third := testShop().Codes[2]
	loadings := map[string]float64{"WH": 1.5, "BK": 0.02, third: 0.4}
	r := addRecipe(t, b, addTarget(t, b, "lamp", loadings), testResin, loadings)
	jar, err := Dilute(t.Context(), b, DiluteRequest{Pigment: "BK", Resin: testResin, PasteGrams: 0.31, SideGrams: 15.02})
	require.NoError(t, err)
	made, err := MakeBatch(t.Context(), b, BatchRequest{Recipe: r.ID(), Making: hundredGrams()})
	require.NoError(t, err)
	require.Equal(t, jar.Stock, made.Predilutions[0].Jar)
	p, err := AddPour(t.Context(), b, AddPourRequest{Batch: made.Batch, AsSheet: true})
	require.NoError(t, err)
	readPour(t, b, p.Pour, stronger(loadings, third, 0.7))

	ask := usualCorrection(p.Pour)
	ask.Stock = jar.Stock
	_, err = Correct(t.Context(), b, ask)
	require.ErrorContains(t, err, "is a pre-dilution of BK; name a tinted pail")
	ask.Stock, ask.PotGrams = "", 30
	v, err := Correct(t.Context(), b, ask)
	require.NoError(t, err)
	at := slices.IndexFunc(v.Ways, func(w Way) bool { return w.Batch != "" })
	require.Positive(t, at, "something can be added")
	way := v.Ways[at]

	c, err := castNamed(t.Context(), b.archive, p.Pour)
	require.NoError(t, err)
	share := 30 / c.contents.Tinted()
	doses := p.Jars[0].Drawn
	assert.InDelta(t, float64(doses)*0.31/15.33, c.contents.Paste["BK"], 1e-9)
	again, err := AddPour(t.Context(), b, AddPourRequest{Batch: way.Batch, AsSheet: true})
	require.NoError(t, err)
	after, err := castNamed(t.Context(), b.archive, again.Pour)
	require.NoError(t, err)
	holds := map[string]float64{"B": c.contents.Side * share}
	for code, g := range c.contents.Paste {
		holds[code] = g * share
	}
	for _, l := range way.Lines {
		holds[l.Item] += float64(l.Grams)
	}
	assert.InDelta(t, holds["B"], after.contents.Side, 1e-6)
	for code := range c.contents.Paste {
		assert.InDelta(t, holds[code], after.contents.Paste[code], 1e-6, code)
	}
	assert.InDelta(t, after.contents.Side*100/90, after.contents.Other, 1e-6, "the mix is 100:90")

	level, err := ShowStock(t.Context(), b, jar.Stock)
	require.NoError(t, err)
	assert.InDelta(t, 15.33-float64(doses), float64(level.Grams), 1e-9, "the pot takes nothing more from the jar")
	next := v.Ways[slices.IndexFunc(v.Ways, func(w Way) bool { return w.Way == string(recipes.NextBatch) })]
	assert.True(t, slices.ContainsFunc(next.Lines, func(a Amount) bool { return a.Item == "BK "+jar.Stock }), "the next batch takes from the jar")
}
