package workbench

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"

	"masstone/color"
	"masstone/color/remedy"
	"masstone/recipes/papers"
	"masstone/recipes/runchart"
)

// A RunCertificateRequest asks for the certificate of a run.
type RunCertificateRequest struct {
	Run    string
	Number string // of the certificate; that of the run if empty
	Notes  []string
	Shop   []string // who made it: name, then lines of the address
}

// RunCertificate is the one certificate of a run.
func RunCertificate(ctx context.Context, b *Bench, r RunCertificateRequest) (papers.RunCertificate, error) {
	v, err := ShowRun(ctx, b, r.Run)
	if err != nil {
		return papers.RunCertificate{}, err
	}
	s := v.Summary
	if s == nil {
		return papers.RunCertificate{}, fmt.Errorf("no part of %s was read; %s", v.Run, remedy.Verb("pour read", "POUR", remedy.InputAs("lab", "L,a,b")))
	}
	t, err := targetOf(ctx, b.archive, v.recipe)
	if err != nil {
		return papers.RunCertificate{}, err
	}
	head, err := b.archive.Head(ctx)
	if err != nil {
		return papers.RunCertificate{}, err
	}
	p := papers.RunCertificate{Heading: b.heading(r.Shop), Number: cmp.Or(r.Number, v.Run), Run: v.Run, Client: v.Client, Target: v.Target, Approval: v.Approval, Recipe: v.Recipe,
		Resin: v.recipe.Resin, Formula: color.Formula(t.Formula), PerAxis: len(t.Limits) > 0, Agreed: acceptance(*t), Parts: v.Parts, Cast: v.Cast, Cups: len(v.Cups), CupsRead: s.CupsRead, Read: s.Read, AsRead: s.AsRead,
		Within: s.Within, Outside: s.Outside, CupsIn: s.CupsWithin, Low: float64(s.Low), High: float64(s.High), Risk: v.Risk, U: float64(s.U), Guard: float64(s.Guard),
		Mean: float64(s.Mean), SD: float64(s.SD), Worst: float64(s.Worst), WorstPart: s.WorstPart, Shift: [3]float64{float64(s.MeanDL), float64(s.MeanDA), float64(s.MeanDB)},
		Drift: v.Drift, Head: string(head), Notes: slices.Clone(r.Notes)}
	var days []string
	for _, c := range v.Cups {
		days = append(days, c.On)
		if c.Mould != "" && !slices.Contains(p.Moulds, c.Mould) {
			p.Moulds = append(p.Moulds, c.Mould)
		}
		for _, code := range slices.Sorted(maps.Keys(c.Lots)) {
			if l := (papers.Lot{Of: code, Lot: c.Lots[code]}); !slices.Contains(p.Lots, l) {
				p.Lots = append(p.Lots, l)
			}
		}
		for _, part := range c.Read {
			p.Under = part.verdict.Under
			p.All = append(p.All, papers.RunPartRead{Part: part.name(), Mould: c.Mould, DE00: float64(part.DE00), DL: float64(part.DL), DA: float64(part.DA), DB: float64(part.DB),
				Chance: float64(part.Chance), Decision: part.Decision})
		}
	}
	if p.PouredOn = slices.Min(days); slices.Max(days) != p.PouredOn {
		p.PouredOn += " to " + slices.Max(days)
	}
	return p, nil
}

// Drawn are the charts of a run, for drawing.
func (v Run) Drawn() (title string, charts []runchart.Chart) {
	for _, c := range v.Charts {
		d := runchart.Chart{Of: c.Named(), Cups: c.Cups, Mean: float64(c.Mean), Outside: c.Outside, FromZero: c.Of == "dE00"}
		if d.FromZero {
			d.Limit = v.agreed()
		}
		for _, x := range c.Values {
			d.Values = append(d.Values, float64(x))
		}
		d.Lower, d.Upper = (*float64)(c.Lower), (*float64)(c.Upper)
		charts = append(charts, d)
	}
	return fmt.Sprintf("%s: %s", v.Run, v.Approval), charts
}

// agreed is the CIEDE2000 that the client accepts; 0 where that is said in another
// way.
func (v Run) agreed() float64 {
	limit := 0.0
	for _, c := range v.Cups {
		for _, p := range c.Read {
			if t := p.verdict.Tolerance; t != nil && p.verdict.Formula == string(color.CIEDE2000) {
				limit = float64(*t)
			}
		}
	}
	return limit
}
