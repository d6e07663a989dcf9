package workbench

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"time"

	"masstone/color"
	"masstone/color/remedy"
	"masstone/recipes"
	"masstone/recipes/ageing"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
	"masstone/recipes/kept"
)

// priorSource is where the prior of a drift comes from.
const priorSource = "common practice, no source"

// drifts are what is known of how parts change, by code of the resin; it is looked
// up when first asked for.
type drifts map[string]ageing.Drift

// of is what is known of the parts of a resin.
func (d drifts) of(ctx context.Context, a *archive.Bench, resin string) (ageing.Drift, error) {
	if known, is := d[resin]; is {
		return known, nil
	}
	parts, readings, err := agedParts(ctx, a, resin)
	if err != nil {
		return ageing.Drift{}, err
	}
	noise, err := readingNoise(ctx, a, readings)
	if err != nil {
		return ageing.Drift{}, err
	}
	d[resin] = ageing.Learn(parts, noise)
	return d[resin], nil
}

// agedParts are the readings of each part of a resin that was read at several ages,
// all under the light of its first and read the way that was; of an age the newest.
// It returns what they were read off, too.
func agedParts(ctx context.Context, a *archive.Bench, resin string) (parts [][]ageing.Reading, readings []archive.Reading, err error) {
	all, err := a.ReadingsOfResin(ctx, resin)
	if err != nil {
		return nil, nil, err
	}
	type part struct {
		pour      string
		part      int
		companion bool
	}
	byPart := map[part][]archive.PourReading{}
	var order []part
	for _, r := range all {
		if r.AgeHours == 0 || otherWarmth(r, nil) != "" {
			continue
		}
		p := part{r.Pour, r.Part, r.Companion}
		if byPart[p] == nil {
			order = append(order, p)
		}
		replaced := func(old archive.PourReading) bool { return old.AgeHours == r.AgeHours }
		byPart[p] = append(slices.DeleteFunc(byPart[p], replaced), r)
	}
	for _, p := range order {
		read := byPart[p]
		if len(read) < 2 {
			continue
		}
		if p.part == 0 && !p.companion {
			if many, err := manyParts(ctx, a, p.pour); err != nil {
				return nil, nil, err
			} else if many {
				continue
			}
		}
		one, err := readAtAges(read)
		if err != nil {
			return nil, nil, err
		}
		parts = append(parts, one)
		for _, r := range read {
			readings = append(readings, r.Readings...)
		}
	}
	return parts, readings, nil
}

// manyParts tells whether a pour is a cup of several parts, so that readings that
// name none may be of different ones.
func manyParts(ctx context.Context, a *archive.Bench, pour string) (bool, error) {
	cup, err := a.CupOfPour(ctx, pour)
	if errors.Is(err, archive.ErrNotFound) {
		return false, nil
	}
	return cup.Parts > 1, err
}

// readAtAges are the readings of one part, by age.
func readAtAges(read []archive.PourReading) ([]ageing.Reading, error) {
	first, err := pieceOf("part", read[0].Readings)
	if err != nil {
		return nil, err
	}
	under := color.D65Ten()
	if len(first.Labs) > 0 {
		under = first.Labs[0].Under
	}
	var out []ageing.Reading
	for _, r := range read {
		piece, err := pieceOf("part", r.Readings)
		if err != nil {
			return nil, err
		}
		how, err := readingOf(piece)
		if err != nil {
			return nil, err
		}
		lab, err := how.Under(under)
		if err != nil {
			return nil, err
		}
		if lab == nil || piece.Measurement != first.Measurement {
			continue
		}
		out = append(out, ageing.Reading{Hours: r.AgeHours, Lab: lab.Values(), Count: cmp.Or(readingsUnder(piece, under), spectraOf(piece))})
	}
	slices.SortStableFunc(out, func(a, b ageing.Reading) int { return cmp.Compare(a.Hours, b.Hours) })
	return out, nil
}

// A change is what a part that was read young is expected to change by until it is
// settled; of the mean of several parts theirs on average.
type change struct {
	hours float64 // age it was read at, the least of several; 0 where nothing changes
	by    [3]float64
	cov   [3][3]float64
	alike [3][3]float64 // of cov what all parts of the resin share
	parts int           // that taught it
}

// change is how the mean of readings changes. One of no known age counts as settled.
func (d drifts) change(ctx context.Context, a *archive.Bench, resin string, read ...archive.PourReading) (change, error) {
	var c change
	total := 0.0
	for _, r := range read {
		total += float64(len(r.Readings))
	}
	for _, r := range read {
		if r.AgeHours == 0 || r.AgeHours >= ageing.SettledHours {
			continue
		}
		known, err := d.of(ctx, a, resin)
		if err != nil {
			return c, err
		}
		by, cov := known.From(r.AgeHours)
		alike := known.Alike(r.AgeHours)
		share := float64(len(r.Readings)) / total
		for i := range by {
			c.by[i] += share * by[i]
			for k := range cov {
				c.cov[i][k] += share * cov[i][k] // what is not known of a resin is alike in its parts
				c.alike[i][k] += share * alike[i][k]
			}
		}
		if c.parts = known.Parts; c.hours == 0 || r.AgeHours < c.hours {
			c.hours = r.AgeHours
		}
	}
	return c, nil
}

// settled is a finding on a part once it has changed, as it is kept.
func (c change) settled(f recipes.Finding) *kept.Settled {
	s := kept.SettledOf(f)
	s.AgeH, s.AtH, s.Parts = figure.Number(c.hours), ageing.SettledHours, c.parts
	s.DL, s.DA, s.DB = figure.Number(c.by[0]), figure.Number(c.by[1]), figure.Number(c.by[2])
	s.SD = figure.Number(recipes.OpenSD(1, c.cov, c.alike))
	s.Source = driftSource(c.parts)
	return &s
}

// driftSource is where a drift is known from that so many parts taught.
func driftSource(parts int) string {
	if parts == 0 {
		return priorSource
	}
	return "readings of parts at several ages"
}

// settling is the verdict kept with a reading, by what is known now of how the part
// changes.
func (c cast) settling(ctx context.Context, a *archive.Bench, drifts drifts, r archive.PourReading, was *kept.Verdict) (*kept.Verdict, error) {
	still, err := drifts.change(ctx, a, c.recipe.Resin, r)
	if err != nil || still.hours == 0 {
		return was, err
	}
	piece, err := pieceOf(c.pour.ID(), r.Readings)
	if err != nil {
		return nil, err
	}
	now, err := inspect(ctx, a, c.recipe, piece, still)
	if err != nil || now == nil {
		return was, err
	}
	return now, nil
}

// ageless says that a young part of which no age was told counts as settled.
func (r *Remarks) ageless(read archive.PourReading, p archive.Pour) {
	poured, e1 := time.Parse(time.DateOnly, p.PouredOn)
	on, e2 := time.Parse(time.DateOnly, read.ReadOn)
	if e1 != nil || e2 != nil || read.AgeHours > 0 || on.Sub(poured).Hours() >= ageing.SettledHours || on.Before(poured) {
		return
	}
	r.say("its age was not said, so it counts as settled; %s counts what it still changes by", remedy.InputAs("age", "24h"))
}
