package workbench

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"masstone/color"
	"masstone/color/readings"
	"masstone/color/remedy"
	"masstone/recipes/archive"
	"masstone/recipes/figure"
)

// A FindRequest asks for recipes in any resin, by words, dates and colour.
type FindRequest struct {
	// Words must all begin words of client, part, target, resin, pigments or
	// note.
	Words               string
	Client, Part, Resin string
	Since, Until        string // days a recipe was stored, 2026-03-31, both included; any if empty
	Approved            bool   // approved recipes only
	Count               int    // most to give, 1 or more

	// Nearest first, from a colour that is typed or from a target.
	Lab          string // L,a,b
	Condition    color.Condition
	Target       string
	TargetClient string // where several have a target of this name

	// What it takes to adjust the nearest, for a part of this thickness over
	// this backing; the target's or the recipe's if not said.
	Adjust      bool
	ThicknessMM float64
	Over        string
	Measurement color.Measurement // how a typed colour is meant
}

// Found is what was found.
type Found struct {
	Recipes []FoundAgain `json:"recipes"`
	Adjust  *Adjustment  `json:"adjust,omitempty"`

	Near   *color.Lab `json:"-"` // that recipes were sought near
	Target *TargetRef `json:"-"` // whose colour it is
}

// A TargetRef names a target.
type TargetRef struct{ Client, Name string }

// A FoundAgain is a recipe that was found, the newest first; near a colour the one
// that is expected to land nearest to it if cast today. What it says of differences
// is of that colour then, else of its own target when it was found.
type FoundAgain struct {
	Recipe
	Version  int            `json:"version" doc:"newest approval, 0 if none"`
	Distance *figure.Number `json:"distance_dE00,omitempty" doc:"by colour"`
	Where    *Color         `json:"at_color,omitempty"`
	Approved bool           `json:"approved_color,omitempty" doc:"at_color is the one approved, not the one predicted"`
}

// A hit is a recipe found.
type hit struct {
	archive.Found
	near  *archive.Near // by colour
	lands *expectation  // on that colour if cast today, nil where that is not known
}

func (h hit) view() FoundAgain {
	v := FoundAgain{Recipe: recipeOf(h.Recipe), Version: h.Version}
	if h.near != nil {
		v.Distance, v.Approved = figure.Of(h.near.DE00), h.near.Approved
		v.Where = &Color{h.near.Lab.Color().Under.String(), figure.LabOf(h.near.Lab.Color())}
		v.DE00, v.Expected, v.Upper95, v.Chance = nil, nil, nil, nil // those are of its own target
		if e := h.lands; e != nil {
			v.DE00, v.Expected, v.Upper95, v.Chance = figure.Of(e.de), figure.Of(e.Expected), figure.Of(e.Upper95), figure.Of(e.Chance)
		}
	}
	return v
}

// Find finds recipes, the newest or the nearest first.
func Find(ctx context.Context, b *Bench, r FindRequest) (Found, error) {
	v := Found{Recipes: []FoundAgain{}}
	q, err := r.query()
	if err != nil {
		return v, err
	}
	if r.Resin != "" {
		if _, err := b.archive.Resin(ctx, r.Resin); err != nil {
			return v, err
		}
	}
	wanted, err := r.wanted(ctx, b.archive)
	if err != nil {
		return v, err
	}
	var hits []hit
	if wanted == nil {
		hits, err = byWords(ctx, b.archive, q)
	} else {
		hits, err = byColor(ctx, b.archive, q, wanted.main)
		v.Near = &wanted.main
		if wanted.target != nil {
			v.Target = &TargetRef{wanted.target.Client, wanted.target.Name}
		}
	}
	if err != nil {
		return v, err
	}
	if wanted != nil {
		if err := wanted.rank(ctx, b.archive, hits, r); err != nil {
			return v, err
		}
	}
	for _, h := range hits {
		v.Recipes = append(v.Recipes, h.view())
	}
	if wanted != nil && r.Adjust && len(hits) > 0 {
		v.Adjust, err = wanted.adjust(ctx, b.archive, hits[0].Recipe, r)
	}
	return v, err
}

// rank says of recipes near a colour where each is expected to land on it if cast
// today, and puts the surest first. One of which nothing is known goes by how far
// its colour lies.
func (w *wantedColor) rank(ctx context.Context, a *archive.Bench, hits []hit, r FindRequest) error {
	cache := knownFor{}
	for i := range hits {
		h := &hits[i]
		k, note, err := w.known(ctx, a, h.Recipe, r, cache)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil || note != "" {
			continue // no calibration, pigments without a curve, another geometry
		}
		e, err := k.weighed(h.Recipe, usualGrams, usualStep)
		if err != nil {
			return err
		}
		h.lands = &e
	}
	slices.SortStableFunc(hits, func(x, y hit) int { return cmp.Compare(x.off(), y.off()) })
	return nil
}

// off is how far a recipe is expected to be off the colour, or its own colour is.
func (h hit) off() float64 {
	if h.lands != nil {
		return h.lands.Expected
	}
	return h.near.DE00
}

// query is what is asked of the archive.
func (r FindRequest) query() (archive.FindQuery, error) {
	q := archive.FindQuery{Words: r.Words, Client: r.Client, Part: r.Part, Resin: r.Resin, Approved: r.Approved, Limit: r.Count}
	if r.Count < 1 {
		return q, outOfRange("count", r.Count, "1 or more")
	}
	if r.Lab != "" && r.Target != "" {
		return q, invalid("lab", "find: give either %s or %s", remedy.Input("lab"), remedy.Input("target"))
	}
	var err error
	if q.Since, err = dayOf("since", r.Since); err != nil {
		return q, err
	}
	if q.Until, err = dayOf("until", r.Until); err == nil && !q.Until.IsZero() {
		q.Until = q.Until.AddDate(0, 0, 1) // that day included
	}
	return q, err
}

// dayOf reads a day, the beginning of time if empty.
func dayOf(field, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return t, invalid(field, "%s %q: is no day; write it as 2026-03-31", remedy.Input(field), text)
	}
	return t, nil
}

func byWords(ctx context.Context, a *archive.Bench, q archive.FindQuery) ([]hit, error) {
	found, err := a.Find(ctx, q)
	hits := make([]hit, len(found))
	for i, f := range found {
		hits[i].Found = f
	}
	return hits, err
}

// byColor lists the nearest recipes that are also found by the words. The
// nearest are asked for in growing numbers until enough of them are.
func byColor(ctx context.Context, a *archive.Bench, q archive.FindQuery, lab color.Lab) ([]hit, error) {
	count := q.Limit
	q.Limit = math.MaxInt32
	var among map[string]int // version by Ref
	if plain := (archive.FindQuery{Resin: q.Resin, Approved: q.Approved, Limit: q.Limit}); q != plain {
		found, err := a.Find(ctx, q)
		if err != nil {
			return nil, err
		}
		among = map[string]int{}
		for _, f := range found {
			among[f.Recipe.Ref] = f.Version
		}
	}
	for limit := count; ; limit *= 10 {
		near, err := a.Nearest(ctx, archive.NearestQuery{Lab: archive.LabOf(lab), Limit: limit, Resin: q.Resin, Approved: q.Approved})
		if err != nil {
			return nil, err
		}
		var hits []hit
		for i, n := range near {
			version, listed := among[n.Recipe.Ref]
			if among != nil && !listed {
				continue
			}
			hits = append(hits, hit{archive.Found{Recipe: n.Recipe, Version: version}, &near[i], nil})
			if len(hits) == count {
				break
			}
		}
		if len(hits) == count || len(near) < limit {
			fillVersions(ctx, a, hits)
			return hits, nil
		}
	}
}

// fillVersions fills in the newest approval of recipes found by colour alone.
func fillVersions(ctx context.Context, a *archive.Bench, hits []hit) {
	for i := range hits {
		h := &hits[i]
		if h.Recipe.Target == "" || h.Version > 0 {
			continue
		}
		all, err := a.Approvals(ctx, h.Recipe.Client, h.Recipe.Target)
		if err != nil {
			continue // a target without a client whose name others have: not told
		}
		if n := slices.IndexFunc(all, func(x archive.Approval) bool { return x.Recipe == h.Recipe.Ref }); n >= 0 {
			h.Version = all[n].Version
		}
	}
}

// A wantedColor is what recipes are sought near.
type wantedColor struct {
	main   color.Lab
	target *archive.Target // nil if typed
}

// wanted is the colour asked for, nil if recipes are asked for by words alone.
func (r FindRequest) wanted(ctx context.Context, a *archive.Bench) (*wantedColor, error) {
	switch {
	case r.Lab != "":
		if r.Condition.Illuminant == "" {
			return nil, invalid("illuminant", "find: %s is missing; say under which light %s is meant, such as %s %s", remedy.Input("illuminant"), remedy.Input("lab"), remedy.InputAs("illuminant", "D65"), remedy.InputAs("observer", "10"))
		}
		lab, err := readings.Typed(r.Lab, usualObserver(r.Condition))
		if err != nil {
			return nil, invalid("lab", "%s %w", remedy.Input("lab"), err)
		}
		return &wantedColor{lab, nil}, nil
	case r.Target != "":
		t, err := a.Target(ctx, r.TargetClient, r.Target)
		if err != nil {
			return nil, err
		}
		piece, err := pieceOf(t.Name, t.Readings)
		if err != nil {
			return nil, err
		}
		labs, err := colors(piece, nil)
		if err != nil {
			return nil, err
		}
		return &wantedColor{labs[0], &t}, nil
	}
	return nil, nil
}
