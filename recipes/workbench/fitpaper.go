package workbench

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"masstone/calibrate"
	"masstone/calibrate/charts"
	"masstone/calibrate/gamut"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/papers"
)

// A FitPaperRequest names a calibration to print a report of. Shop is who made it:
// name, then lines of the address.
type FitPaperRequest struct {
	Resin   string
	Version int // the newest if 0
	Shop    []string
}

// printDPI is enough for paper (common practice, no source).
const printDPI = 300

// chartsOnPaper are those a report holds, by name, with what they are and their
// share of the page's width.
var chartsOnPaper = []struct {
	name, alt string
	wide      float64
}{
	{"curves", "Absorption and scattering of the resin and each pigment over the wavelength, with their 95 % bands; the numbers are in the table curves.csv of the drawn report", 1},
	{"left-out", "Map of the chips on the a*b* plane, with what the fit says of each without having read it; the numbers are in the table below", 0.72},
}

// FitPaper is the report of a stored calibration, with what to cast next.
func FitPaper(ctx context.Context, b *Bench, r FitPaperRequest) (papers.FitReport, error) {
	var p papers.FitReport
	a := b.archive
	resin, err := resinAt(ctx, a, r.Resin)
	if err != nil {
		return p, err
	}
	stored, cal, err := calibrationOn(ctx, a, resin.Code, r.Version)
	if err != nil {
		return p, err
	}
	p = papers.FitReport{Heading: b.heading(r.Shop), Calibration: stored.Name(), Resin: resin.Code, ResinName: resin.Name, FittedOn: figure.Day(stored.At), FittedBy: stored.Who,
		Pours: len(stored.Pours), Fit: cal}
	if p.Chips, err = chipsOf(ctx, a, stored); err != nil {
		return p, err
	}
	if p.From, err = carriedFrom(ctx, a, stored); err != nil {
		return p, err
	}
	if p.Names, err = pigmentNames(ctx, a); err != nil {
		return p, err
	}
	if notes := crookedNotes(cal); len(notes) > 0 {
		p.Crooked = notes[0]
	}
	if err := castNext(ctx, b, stored, &p); err != nil {
		return p, err
	}
	p.Charts, err = fitCharts(ctx, b, resin, cal, p)
	return p, err
}

// castNext adds the chips that would teach most, or why there are none to name. No
// plan is kept.
func castNext(ctx context.Context, b *Bench, stored archive.Calibration, p *papers.FitReport) error {
	d, _, err := PlanNextRequest{Resin: stored.Resin, Calibration: stored.Version}.drawUp(ctx, b)
	if err != nil {
		if ctx.Err() != nil {
			return err
		}
		p.NextNotes = []string{"Not to be said now; plan next tells why."}
		return nil
	}
	if d.plan.Document, err = json.Marshal(d.kept); err != nil {
		return err
	}
	v, err := planOf(ctx, b.archive, d.plan)
	if err != nil {
		return err
	}
	p.Next = v.Paper.Chips
	for _, n := range v.Notes {
		p.NextNotes = append(p.NextNotes, sentence(n))
	}
	for i, g := range d.kept.Gains {
		p.Next[i].Why = fmt.Sprintf("mean expected dE00 falls to %.2f; most for %s phr, from %.2f to %.2f", g.After, figure.Loadings(g.Loadings), g.BeforeOfThis, g.AfterOfThis)
	}
	return nil
}

// fitCharts draws the charts of a report.
func fitCharts(ctx context.Context, b *Bench, resin archive.Resin, cal *calibrate.Calibration, p papers.FitReport) ([]papers.FitChart, error) {
	all, err := charts.All(cal, charts.Options{Title: p.Calibration, Chips: p.Chips, Limits: gamut.Limits{TotalPHR: calibrate.PHR(resin.MaxPHR)}, DPI: printDPI})
	if err != nil {
		return nil, err
	}
	var out []papers.FitChart
	for _, c := range chartsOnPaper {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		b.step("drawing the report")
		chart := all[slices.IndexFunc(all, func(x charts.Chart) bool { return x.Name == c.name })]
		var svg, png bytes.Buffer
		if err := chart.Draw(&svg, charts.SVG); err != nil {
			return nil, err
		}
		if err := chart.Draw(&png, charts.PNG); err != nil {
			return nil, err
		}
		out = append(out, papers.FitChart{Alt: c.alt, Wide: c.wide, SVG: svg.Bytes(), PNG: png.Bytes()})
	}
	return out, nil
}
