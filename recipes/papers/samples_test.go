package papers_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"masstone/calibrate"
	"masstone/color"
	"masstone/recipes/batch"
	"masstone/recipes/papers"
)

// All data here are invented.

var (
	made = time.Date(2026, 3, 31, 14, 30, 0, 0, time.UTC)
	shop = []string{"Möwe & Söhne Guss", "Kaistraße 7, 24000 Nordhafen"}
	head = papers.Heading{Made: made, Shop: shop}
)

// hostile names try to break out of every format.
const (
	hostile  = `<script>alert("x")</script>`
	breakout = `"}</style><img src=http://x.invalid/a.png onerror=alert(1)> & 'q' <b>`
	formula  = `=HYPERLINK("http://x.invalid","x")`
	lengthy  = "Großer Leuchtturm-Ausstattungsgehäusedeckel mit Überwurfmutter, Ausführung für Ölhafenbeleuchtungsanlagen (Sonderfarbe »Dämmergrün«)"
	bundled  = "Rindfleischetikettierungsüberwachungsaufgabenübertragungsgesetzkonformitätserklärung"
)

func lab(l, a, b float64, under color.Illuminant) color.Lab {
	return color.LabFrom([3]float64{l, a, b}, color.Under(under, color.TenDegree))
}

// poured is how a shop with open moulds works.
func poured() batch.Handling {
	h := batch.UsualHandling()
	h.Shot = 0
	return h
}

// request is a recipe in an invented resin whose outcome is a plain distance.
func request(recipe map[string]batch.PHR, order batch.Order) batch.Request {
	return batch.Request{
		Recipe: recipe,
		Resin: batch.Resin{Mix: batch.Ratio{A: 100, B: 90}, DensityA: batch.GramsPerML(1.05), DensityB: batch.GramsPerML(1.00),
			PotLife: 7 * time.Minute, PigmentSide: batch.SideB, MaxPHR: 6},
		Order: order, Scale: batch.Scale{Step: batch.Grams(0.01)}, Handling: poured(), Tolerance: 0.8,
		Outcome: func(m batch.Mixture) (float64, error) {
			sum := 0.09
			for code, want := range recipe {
				if want > 0 {
					off := float64(m.Loadings[code]/want) - 1
					blur := float64(m.Weighing[code] / want)
					sum += 40 * (off*off + blur*blur)
				}
			}
			return math.Sqrt(sum), nil
		},
	}
}

func housing(t testing.TB) papers.BatchSheet {
	r := request(map[string]batch.PHR{"WH": 1.02, "RD": 0.21, "BK": 0.012},
		batch.Order{Cavity: batch.Millilitres(18.5), Shots: 12, Waste: 0.10})
	s, err := batch.Plan(r)
	require.NoError(t, err)
	sizes, err := batch.Smallest(r)
	require.NoError(t, err)
	target, predicted := lab(48.31, 42.07, 21.50, color.D65), lab(48.52, 41.70, 21.66, color.D65)
	return papers.BatchSheet{
		Heading: head, Batch: "B7", Recipe: "R12", Calibration: "CLR fit 3", Resin: "CLR",
		Target: "Harbour lamp / housing", Client: "Tern Boats", Order: "12 parts of 18.5 ml and 10 % waste",
		Names:     map[string]string{"WH": "Titanium white", "RD": "Lamp red", "BK": "Soot black"},
		Lots:      map[string]string{"WH": "W-2231", "RD": "R-0904", "BK": "K-77"},
		TargetLab: &target, Predicted: &predicted, Sheet: s, Smallest: &sizes,
	}
}

// injected is a run of small parts from a short pot life.
func injected(t testing.TB) papers.BatchSheet {
	r := request(map[string]batch.PHR{"WH": 1.02, "RD": 0.21, "BK": 0.012},
		batch.Order{Cavity: batch.Millilitres(2.4), Shots: 30, Waste: 0.10, Sprue: batch.Millilitres(0.8), Syringe: batch.Millilitres(0.3)})
	r.Handling = batch.UsualHandling()
	r.Handling.Degas, r.Handling.Headroom, r.Handling.Celsius, r.Handling.People = 0, 0, 26, 2
	s, err := batch.Plan(r)
	require.NoError(t, err)
	b := housing(t)
	b.Sheet, b.Smallest, b.Order = s, nil, "30 parts of 2.4 ml, 0.8 ml of sprue, 0.3 ml left in the syringe and 10 % waste"
	return b
}

// crowded is a batch of many pigments in several cups, with names that try the
// layout and a slip to be saved.
func crowded(t testing.TB) papers.BatchSheet {
	recipe, names := map[string]batch.PHR{}, map[string]string{}
	for i := range 11 {
		code := fmt.Sprintf("PIG-%02d", i+1)
		recipe[code] = batch.PHR(0.05 + 0.07*float64(i))
		names[code] = []string{lengthy, hostile, bundled, "Grün", breakout}[i%5]
	}
	recipe["TRACE"] = 0.002
	r := request(recipe, batch.Order{Cavity: batch.Millilitres(61), Shots: 30, Waste: 0.07})
	r.Dilution = batch.DiluteWhenNeeded
	r.Outcome, r.Tolerance = nil, 0
	r.Handling.MaxCup = batch.Grams(300)
	s, err := batch.Plan(r)
	require.NoError(t, err)
	rescue, err := batch.Overshoot(r, s, batch.Poured{"PIG-03": batch.Grams(5)})
	require.NoError(t, err)
	s.Notes = append(s.Notes, hostile)
	target, predicted := lab(61, -88, 14, color.A), lab(60.2, -70.125, 11, color.A)
	return papers.BatchSheet{
		Heading: papers.Heading{Made: made, Shop: []string{breakout, lengthy}}, Batch: "B12345", Recipe: "R1", Resin: bundled,
		Target: lengthy, Client: hostile, Order: breakout, Names: names, TargetLab: &target, Predicted: &predicted, Sheet: s, Rescue: &rescue,
	}
}

func card() papers.RecipeCard {
	half := [3]float64{0.31, 0.42, 0.38}
	wide := [3]float64{0.62, 0.95, 0.71}
	d65, a, fl := lab(48.31, 42.07, 21.50, color.D65), lab(55.12, 40.88, 33.02, color.A), lab(52.04, 36.2, 25.9, color.FL11)
	return papers.RecipeCard{
		Heading: head, Recipe: "R12", Name: "surest", Resin: "CLR", Calibration: "CLR fit 3", Target: "Harbour lamp / housing", Client: "Tern Boats",
		Loadings: []papers.Loading{
			{Pigment: "WH", Name: "Titanium white", PHR: 1.02, Grams: 2.52, SD: 0.004, Slip: 0.04, Lot: "W-2231"},
			{Pigment: "RD", Name: "Lamp red", PHR: 0.21034, Grams: 0.52, SD: 0.0041, Slip: 0.09, Lot: "R-0904"},
			{Pigment: "BK", Name: "Soot black", PHR: 0.012, Grams: 0.03, Slip: 0.06},
		},
		UsualGrams: 250.48, StepGrams: 0.01, Sides: []papers.CardSide{{Side: "B", Grams: 117.19}, {Side: "A", Grams: 130.22}},
		ThicknessMM: 3, Backing: "white",
		Colors: []papers.CardColor{
			{Lab: lab(48.52, 41.70, 21.66, color.D65), Half95: &half, Target: &d65, Expected: 0.39, Upper95: 0.71},
			{Lab: lab(55.30, 40.41, 33.20, color.A), Half95: &wide, Target: &a, Expected: 0.55, Upper95: 1.02},
			{Lab: lab(52.11, 35.02, 26.4, color.FL11), Half95: &wide, Target: &fl, Expected: 0.94, Upper95: 1.44},
			{Lab: lab(47.9, 42.2, 20.1, color.D50)},
		},
		Tolerance: 1, Chance: 0.987, Opacity: 0.9713, HidesMM: 3.42, CostPerKg: 14.8, Currency: "EUR",
		ResinLots: []string{"A 26-114", "B 26-090"}, ApprovedBy: "J. Möller", ApprovedOn: "2026-03-12", ApprovedAs: "housing v2", Head: "41-9b1f07c3a2e85d64",
		Batches: []papers.CardBatch{{Batch: "B7", Grams: "250.48", On: "2026-03-31"}, {Batch: "B3", Grams: "120.00", On: "2026-02-02"}},
		Notes:   []string{"Sand the first part before reading: the mould's gloss reads 0.4 darker."},
	}
}

func certificate() papers.Certificate {
	return papers.Certificate{
		Heading: head, Number: "C-2026-014", Client: "Tern Boats", Target: "Harbour lamp / housing", Recipe: "R12", Batch: "B7", Pour: "P9", Resin: "CLR", Calibration: "CLR fit 3",
		Lots: []papers.Lot{{Of: "WH", Lot: "W-2231"}, {Of: "RD", Lot: "R-0904"}}, Tolerance: 1,
		Lights: []papers.Reading{
			{Target: lab(48.31, 42.07, 21.50, color.D65), Part: lab(47.96, 41.71, 21.83, color.D65)},
			{Target: lab(55.12, 40.88, 33.02, color.A), Part: lab(54.75, 40.31, 33.10, color.A)},
			{Target: lab(52.04, 36.20, 25.90, color.FL11), Part: lab(51.52, 35.02, 26.41, color.FL11)},
		},
		Measurement: color.Measurement{Geometry: color.Sphere, Specular: color.SpecularIncluded}, Instrument: "handheld, 8 mm aperture",
		Readings: 5, TargetReadings: 3, Scatter: 0.11, ThicknessMM: 3, Backing: "white",
		TargetReadOn: "2026-01-20", PouredOn: "2026-03-30", ReadOn: "2026-03-31", ApprovedBy: "J. Möller", ApprovedOn: "2026-03-31", Head: "57-3fa9c1d2e4b57a01",
	}
}

// wholeRun is a run of which one part is in doubt, with a hostile mould.
func wholeRun() papers.RunCertificate {
	return papers.RunCertificate{
		Heading: head, Number: "RUN3", Run: "RUN3", Client: "Tern Boats", Target: "Harbour lamp / housing", Approval: "Harbour lamp / housing v2", Recipe: "R12", Resin: "CLR",
		Lots: []papers.Lot{{Of: "WH", Lot: "W-2231"}, {Of: "RD", Lot: "R-0904"}, {Of: "RD", Lot: "R-0951"}}, Moulds: []string{"M1", formula},
		Under: "D65/10", Formula: color.CIEDE2000, Agreed: "1 CIEDE2000", Parts: 30, Cast: 30, Cups: 10, CupsRead: 3, Read: 4, AsRead: 4, Within: 3, CupsIn: 2,
		Low: 0.0943, High: 0.9916, Risk: 0.05, U: 0.12, Guard: 0.2, Mean: 0.49, SD: 0.31, Worst: 0.93, WorstPart: "P31 part 2", Shift: [3]float64{-0.21, 0.13, 0.3},
		Drift: "db drifts from cup 7 on, seen at cup 9: +0.60 on average, +0.05 before", PouredOn: "2026-03-20 to 2026-03-30", Head: "57-3fa9c1d2e4b57a01", Notes: []string{hostile},
		All: []papers.RunPartRead{
			{Part: "P21 part 1", Mould: "M1", DE00: 0.2, DL: -0.1, DA: 0.05, DB: 0.2, Chance: 1, Decision: "within"},
			{Part: "P24", Mould: formula, DE00: 0.31, DL: -0.2, DB: 0.1, Chance: 1, Decision: "within"},
			{Part: "P31 part 1", DE00: 0.52, DL: -0.3, DA: 0.2, DB: 0.4, Chance: 0.999, Decision: "within"},
			{Part: "P31 part 2", DE00: 0.93, DL: -0.25, DA: 0.3, DB: 0.5, Chance: 0.72, Decision: "undecided"},
		},
	}
}

// toFill is the sheet of a run of which two cups are cast.
func toFill() papers.RunSheet {
	target, room, first, second := lab(48.31, 42.07, 21.50, color.D65), 21.5, 0.0, 4.52
	return papers.RunSheet{Heading: head, Run: "RUN3", Client: "Tern Boats", Target: lengthy, Approval: "Harbour lamp / housing v2", Recipe: "R12", Resin: "CLR", PigmentSide: batch.SideB,
		Loadings: []papers.Loading{{Pigment: "WH", PHR: 1.02}, {Pigment: "RD", PHR: 0.21034}}, Lots: []papers.Lot{{Of: "A", Lot: "26-114"}, {Of: "B", Lot: "26-090"}, {Of: "RD", Lot: formula}},
		Agreed: "1 CIEDE2000", TargetLab: &target, Parts: 9, Cast: 4, Batch: "B7", PotLife: 5.686, Celsius: 26, CupMinutes: 4.5, SettledDays: 7,
		Cups: []papers.RunSheetCup{
			{Number: 1, Pour: "P21", Parts: 2, Mould: hostile, On: "2026-03-30", By: bundled, RoomC: &room, Read: &papers.Sight{Part: 1, Lab: lab(48.2, 42.1, -21.4, color.D65)}},
			{Number: 2, Pour: "P22", Parts: 2, On: "2026-03-30"}, {Number: 3, Parts: 3, Mould: "M1", Starts: &first}, {Number: 4, Parts: 2, Starts: &second}},
		Notes: []string{breakout}}
}

// refused is a part that misses under one light of several, with hostile names.
func refused() papers.Certificate {
	c := certificate()
	c.Formula, c.EveryLight, c.Tolerance, c.Scatter = color.CMC21, true, 0.9, 0.5
	c.Client, c.Target, c.Number, c.Instrument = hostile, lengthy, breakout, formula
	c.Pour, c.Batch, c.ApprovedBy, c.ApprovedOn, c.Notes = "", "", "", "", []string{hostile, bundled}
	return c
}

// fitted is the report of a fit of three pigments with a chip in doubt, one that the
// others cannot tell, and hostile names.
func fitted(t testing.TB) papers.FitReport {
	p := plan()
	cal := &calibrate.Calibration{Curves: []calibrate.Curve{{}, {Code: "WH"}, {Code: "RD"}, {Code: formula}}, Main: color.D65Ten(), Lights: []color.Condition{color.D65Ten()},
		Layer:   calibrate.LayerModel{Name: calibrate.ExactLayer, Index: 1.512, IndexSD: 0.004, SurfaceKnown: true},
		Scatter: 0.012, ModelError: calibrate.ModelError{Widen: 1.31, Floor: 0.12, Layer: 0.06}, LeaveOut: calibrate.LeaveOutSummary{Chips: 15, MeanDE00: 0.42, MedianDE00: 0.31, Coverage95: 0.933},
		Others:   []calibrate.LayerTrial{{Name: calibrate.ExactLayer, Index: 1.512, MeanDE00: 0.42}, {Name: calibrate.KubelkaMunk, MeanDE00: 0.97}},
		Suspects: []calibrate.Suspect{{Chips: []string{"RD1-resin-white"}, Cause: calibrate.LoadingSlip, Pigment: "RD", Factor: 10, Sigma: 9, Odds: 6}},
		Warnings: []string{hostile}}
	r := papers.FitReport{Heading: head, Calibration: "CLR v3", Resin: "CLR", ResinName: lengthy, FittedOn: "2026-03-30", FittedBy: "jm", Pours: 4, Names: p.Names, Fit: cal,
		Crooked: "Castings miss the law of mixing by 3 %: more chips will not lower expected dE00 below 0.4.", Next: p.Chips[:2], NextNotes: []string{"Colours are let down in WH."}}
	for i, c := range p.Chips {
		r.Chips = append(r.Chips, calibrate.Chip{Name: c.Name, Loadings: c.Loadings, Thickness: calibrate.ThicknessMM(c.ThicknessMM), BackingName: c.Backing})
		off := float64(i) / 10
		cal.Chips = append(cal.Chips, calibrate.ChipReport{Chip: c.Name, Measured: lab(50+off, 10, -5, color.D65), Fitted: lab(50, 10, -5, color.D65), LeftOut: lab(49, 10, -5, color.D65),
			DE00: off, LeftDE00: 1 + off, Sigma: off, Inside: i%3 > 0, Vague: i == 5})
	}
	var chart bytes.Buffer
	require.NoError(t, png.Encode(&chart, image.NewGray(image.Rect(0, 0, 40, 20))))
	r.Charts = []papers.FitChart{{Alt: hostile, Wide: 1, PNG: chart.Bytes(), SVG: []byte(`<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 20"><rect width="40" height="20"/></svg>`)}}
	return r
}

func plan() papers.ChipPlan {
	p := papers.ChipPlan{
		Heading: head, Plan: "First chips", Resin: "CLR", Mix: batch.Ratio{A: 100, B: 90}, PigmentSide: batch.SideB,
		ChipGrams: batch.Grams(50), Step: batch.Grams(0.01), PotLife: 7,
		Names:  map[string]string{"WH": "Titanium white", "RD": "Lamp red", "BL": "Tideblau"},
		Lights: []color.Condition{color.D65Ten(), color.Under(color.A, color.TwoDegree)}, Before: 1.42, After: 0.57,
	}
	add := func(over, why string, grams map[string]float64) {
		c := papers.PlannedChip{Backing: over, ThicknessMM: 3, Why: why, Loadings: map[string]calibrate.PHR{}, Grams: map[string]batch.Mass{}}
		c.Name = "resin-" + over
		for _, code := range []string{"WH", "RD", "BL"} {
			if g := grams[code]; g > 0 {
				c.Grams[code], c.Loadings[code] = batch.Grams(g), calibrate.PHR(math.Round(g/50*100*1e6)/1e6)
				c.Name = fmt.Sprintf("%s%.3g-%s", code, float64(c.Loadings[code]), c.Name)
			}
		}
		p.Chips = append(p.Chips, c)
	}
	for _, over := range []string{"white", "black"} {
		add(over, "", nil)
		add(over, "", map[string]float64{"WH": 1})
		for _, code := range []string{"RD", "BL"} {
			add(over, "", map[string]float64{code: 0.5})
			add(over, "", map[string]float64{code: 0.05})
			add(over, "most help to reds let down", map[string]float64{code: 0.1, "WH": 0.5})
		}
	}
	add("white", "", map[string]float64{"WH": 0.5, "RD": 0.1, "BL": 0.1})
	return p
}

func labels() papers.Labels {
	l := papers.Labels{Heading: head, Cut: true, Skip: 1, Labels: papers.ChipLabels(plan())}
	red := lab(48.3, 42.1, 21.5, color.D65)
	jar := papers.JarLabel("RD", "Lamp red", "PR 254", "R-0904", 1.21, 1.5)
	jar.Lab = &red
	l.Labels = append(l.Labels, jar,
		papers.JarLabel("WH", lengthy, "PW 6", "W-2231", 2.05, 4),
		papers.Label{Code: bundled, Name: hostile, Lines: []string{breakout, lengthy, formula}, Find: papers.RefTo("jar", "Ä/ö ü"), Lab: &red},
		papers.Label{Code: "no code", Name: "漢字 and \u202egnirts\u202c 🎨"})
	return l
}

// many is more labels than a sheet holds.
// cutLabels are the labels to be cut out in a size.
func cutLabels(size string) papers.Labels {
	l := labels()
	each, err := papers.ParseLabelSize(size)
	if err != nil {
		panic(err)
	}
	l.Each, l.Cut = &each, false
	return l
}

func many() papers.Labels {
	l := papers.Labels{Heading: head}
	for i := range 40 {
		l.Labels = append(l.Labels, papers.Label{Code: fmt.Sprintf("C%d", i+1), Name: "chip", Find: papers.RefTo("chip", "CLR", fmt.Sprintf("C%d", i+1))})
	}
	return l
}

type sample struct {
	name  string
	paper papers.Paper
}

func samples(t testing.TB) []sample {
	return []sample{{"batch", housing(t)}, {"batch_crowded", crowded(t)}, {"batch_shots", injected(t)}, {"card", card()}, {"certificate", certificate()},
		{"certificate_refused", refused()}, {"certificate_run", wholeRun()}, {"run", toFill()}, {"chips", plan()}, {"fit", fitted(t)}, {"labels", labels()}, {"labels_many", many()}, {"labels_25x10", cutLabels("25x10")}, {"labels_40x20", cutLabels("40x20")}}
}
